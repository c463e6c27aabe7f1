"""What an engineer could write: play, record, correlate, shift. The rival in `bench_against_script`.

Run as ``plain_script.py DI DEVICE OUTPUT INPUT OUT`` (channels from 1); writes the shifted return to OUT
and prints the shift, the polarity and its own largest memory as one JSON object.
"""

from __future__ import annotations

import json
import resource
import sys

import numpy as np
import sounddevice as sd
import soundfile
from scipy import signal

TAIL_S = 1.0


def main() -> None:
    """Play, record, correlate, shift, write."""
    path, device, output, source, out = sys.argv[1:]
    di, rate = soundfile.read(path, dtype="float32")
    sent = np.concatenate([di, np.zeros(round(TAIL_S * rate), dtype=np.float32)])
    heard = sd.playrec(
        sent,
        samplerate=rate,
        device=(device, device),
        output_mapping=[int(output)],
        input_mapping=[int(source)],
        blocking=True,
    )[:, 0]
    correlation = signal.correlate(heard, di, mode="full", method="fft")
    peak = int(np.argmax(np.abs(correlation)))
    shift = int(signal.correlation_lags(len(heard), len(di), mode="full")[peak])
    sign = 1 if correlation[peak] > 0 else -1
    placed = np.roll(heard, -shift)[: len(di)] * sign
    soundfile.write(out, placed, rate, "PCM_24")
    peak_bytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(json.dumps({"shift": shift, "inverted": sign < 0, "peak_bytes": peak_bytes}))


if __name__ == "__main__":
    main()
