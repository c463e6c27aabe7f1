"""Sixteen sounds of four microphones matched: the first time, after a fader was moved, and what is held.

Files are noise, 24 bits at 48 kHz, on the disk's cache; their content changes nothing about the time. A
process of its own, computing on one thread as the worker does, asks for 20 s in the middle that nobody read
before, then with one fader moved (the median of 20 moves), then for all ten minutes and the same again.
Memory is what the process holds beyond what it held once everything was loaded. Needs 6 GB of disk for a
moment.
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

from audio.vocab.children import environment

RATE = 48_000
SOUNDS, MICROPHONES, MINUTES = 16, 4, 10
FIRST_S, MOVED_MS, HELD_MB = 5.0, 50.0, 200.0

MEASURE = """
import json, pathlib, statistics, sys, time
from msgspec import structs
from audio.vocab.layers import Layer
from audio.vocab.requests import MatchSounds
from audio.work.matching import Matching
folder, minutes, rate = pathlib.Path(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3])
def resident(what):
    told = pathlib.Path("/proc/self/status").read_text().split(what + ":")[1]
    return int(told.split()[0]) / 1000
def spent(asked):
    began = time.perf_counter()
    matching.match(asked)
    return time.perf_counter() - began
def moved(asked):
    # each time another sound's first microphone
    times = []
    for k in range(20):
        at = k % len(asked.sounds)
        first, *others = asked.sounds[at]
        sound = (structs.replace(first, gain_db=-1.0 - k), *others)
        sounds = (*asked.sounds[:at], sound, *asked.sounds[at + 1:])
        times.append(spent(structs.replace(asked, sounds=sounds)))
    return 1000 * statistics.median(times)
layers = {}
for path in sorted(folder.glob("*.wav")):
    layers.setdefault(path.stem.split("-")[0], []).append(Layer(path=str(path)))
sounds = tuple(map(tuple, layers.values()))
frames = round(60 * minutes * rate)
matching = Matching()
short = MatchSounds(sounds=sounds, from_frame=frames // 3 + 123, frames=20 * rate, sample_rate=rate)
matching.match(structs.replace(short, sounds=sounds[:1], frames=rate))
matching = Matching()  # what is imported late is imported now
pathlib.Path("/proc/self/clear_refs").write_text("5")  # the largest resident set so far is forgotten
before = resident("VmRSS")
told = [spent(short), moved(short)]
whole = structs.replace(short, from_frame=0, frames=frames)
told += [spent(whole), moved(whole), matching.bytes / 1e6, resident("VmHWM") - before]
print(json.dumps(told))
"""


def main() -> None:
    """Write the files, match them, and print figure beside goal."""
    parser = report.options(__doc__)
    minutes = 0.5 if parser.parse_args().short else MINUTES
    report.conditions(
        f"{SOUNDS} sounds of {MICROPHONES} microphones, {minutes:g} minutes at {RATE} Hz"
    )
    with tempfile.TemporaryDirectory() as folder:
        _write(Path(folder), frames=round(60 * minutes * RATE))
        run = [sys.executable, "-c", MEASURE, folder, str(minutes), str(RATE)]
        told = subprocess.run(
            run, env=environment(), check=True, capture_output=True, text=True
        ).stdout
    first, moved, whole, whole_moved, kept, held = json.loads(told)
    report.figure("20 s, first time", f"{first:.2f} s", f"under {FIRST_S:g} s", first < FIRST_S)
    report.figure(
        "20 s, a fader moved", f"{moved:.1f} ms", f"under {MOVED_MS:g} ms", moved < MOVED_MS
    )
    report.figure(f"{minutes:g} min, first time", f"{whole:.1f} s")
    report.figure(
        f"{minutes:g} min, a fader moved",
        f"{whole_moved:.1f} ms",
        f"under {MOVED_MS:g} ms",
        whole_moved < MOVED_MS,
    )
    report.figure("kept of what was read", f"{kept:.0f} MB")
    report.figure(
        "memory beyond imports, at most", f"{held:.0f} MB", f"under {HELD_MB:g} MB", held < HELD_MB
    )


def _write(folder: Path, *, frames: int) -> None:
    """Write the microphones: each its own stretches of one noise, so that writing does not take longest."""
    noise = 0.1 * np.random.default_rng(1).standard_normal(4 * RATE)
    for sound in range(SOUNDS):
        for microphone in range(MICROPHONES):
            turned = np.roll(noise, 1000 * (MICROPHONES * sound + microphone))
            path = folder / f"{sound:02d}-{microphone}.wav"
            soundfile.write(path, np.resize(turned, frames), RATE, "PCM_24")


if __name__ == "__main__":
    main()
