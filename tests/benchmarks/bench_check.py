"""Checking a DI of five minutes: seconds and memory beyond what importing takes.

The DI is real playing (CC0 recordings of Debian's sonic-pi-samples strung into phrases, with noise), 24
bits at 48 kHz. A process of its own, computing on one thread as the worker does, checks it three times;
the fastest counts, for whatever else the machine does only adds. Memory is the largest resident set while
it checks, less what it was once everything was loaded.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import report
import soundfile
from playing import phrase, write_phrase

from audio.vocab.children import environment

MINUTES = 5
RATE = 48_000
NOISE = 10 ** (-96 / 20)
"""RMS, full scale 1: a quiet DI box (common practice, no source)."""
GOAL_S = 2.0
GOAL_MIB = 300.0

MEASURE = """
import json, pathlib, sys, time
from audio.vocab.requests import CheckDi
from audio.work.checking import check_di
def resident(what):
    told = pathlib.Path("/proc/self/status").read_text().split(what + ":")[1]
    return int(told.split()[0]) / 1024
check_di(CheckDi(path=sys.argv[2], channel=0))          # what is imported late is imported now
pathlib.Path("/proc/self/clear_refs").write_text("5")     # the largest resident set so far is forgotten
before, spent = resident("VmRSS"), []
for _ in range(3):
    began, cpu = time.perf_counter(), time.process_time()
    found = check_di(CheckDi(path=sys.argv[1], channel=0))
    spent.append((time.perf_counter() - began, time.process_time() - cpu))
print(json.dumps([min(spent), resident("VmHWM") - before, len(found.hits), len(found.joints)]))
"""


def main() -> None:
    """Check, and print figure beside goal."""
    parser = report.options(__doc__)
    minutes = 1 if parser.parse_args().short else MINUTES
    report.conditions(f"a DI of {minutes} minutes at {RATE} Hz")
    with tempfile.TemporaryDirectory() as folder:
        long = _with_noise(Path(folder) / "long.wav", seconds=60.0 * minutes)
        short = write_phrase(Path(folder) / "short.wav", rate=RATE, seconds=2.0, seed=9)
        run = [sys.executable, "-c", MEASURE, str(long), str(short)]
        told = subprocess.run(
            run, env=environment(), check=True, capture_output=True, text=True
        ).stdout
    (seconds, cpu), mib, hits, joints = json.loads(told)
    report.figure("hits, joints told", f"{hits}, {joints}")
    report.figure("processor time", f"{cpu:.2f} s")
    report.figure(
        "time beyond imports", f"{seconds:.2f} s", f"under {GOAL_S:g} s", seconds < GOAL_S
    )
    report.figure(
        "memory beyond imports", f"{mib:.0f} MiB", f"under {GOAL_MIB:g} MiB", mib < GOAL_MIB
    )


def _with_noise(path: Path, *, seconds: float) -> Path:
    """Write playing with the noise that any recording has: the phrases' recordings come again and again."""
    played = phrase(rate=RATE, seconds=seconds, seed=8)
    played += np.random.default_rng(8).normal(0.0, NOISE, played.size)
    soundfile.write(path, played, RATE, subtype="PCM_24")
    return path


if __name__ == "__main__":
    main()
