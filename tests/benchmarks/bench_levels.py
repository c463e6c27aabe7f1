"""Every level of five minutes at 48 kHz: peaks, RMS, loudness, A-weighting, third octaves, clipped runs.

The sound comes from a 24-bit file in pieces, as the worker reads; the file is in memory. Playing is what is
heard; noise at full scale throughout is the worst there is, as nothing of it is quiet. The best of
some runs counts: the machine may do other things beside. Each tool is then timed by itself, for comparison,
on sound that is in memory. Imports are not counted.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import report
from material import RATE, Floats, write_di, write_long_di

from audio.files.source import SourceFile
from audio.measure.loudness import RunningLoudness
from audio.measure.sound_levels import sound_levels
from audio.measure.spectrum import even, power_by_hz
from audio.measure.true_peak import true_peak_dbtp

GOAL_S = 1.0
RUNS = 5
PIECE = 1 << 18
SEED = 16_000


def main() -> None:
    """Print the figures."""
    said = report.options(__doc__).parse_args()
    seconds = 20.0 if said.short else 300.0
    report.conditions(f"{seconds:g} s at {RATE} Hz, mono, best of {RUNS}")
    with tempfile.TemporaryDirectory() as folder:
        playing = write_long_di(Path(folder, "di.wav"), seconds=seconds)
        noise = write_di(Path(folder, "noise.wav"), _noise(seconds))
        for name, path in (("playing", playing), ("noise", noise)):
            took = _best(lambda path=path: sound_levels(_pieces(path), rate=RATE, speakers=1))
            report.figure(
                f"all levels of {name}", f"{took:.2f} s", f"under {GOAL_S:g} s", took < GOAL_S
            )
    _each(_noise(seconds))


def _each(sound: Floats) -> None:
    """Print how long each of the slower tools takes."""
    whole = sound[: sound.size // (RATE // 10) * (RATE // 10)].reshape(-1, RATE // 10)
    tools: dict[str, Callable[[], object]] = {
        "true peak": lambda: true_peak_dbtp(sound, rate=RATE),
        "power over frequency": lambda: power_by_hz(sound, rate=RATE, window=even),
        "loudness": lambda: RunningLoudness(rate=RATE).feed(whole),
    }
    for name, tool in tools.items():
        report.figure(f"    {name} alone", f"{_best(tool):.2f} s")


def _pieces(path: Path) -> Iterator[Floats]:
    with closing(SourceFile(path)) as sound:
        for at in range(0, sound.frames, PIECE):
            yield sound.read(at, min(PIECE, sound.frames - at), channel=0)


def _noise(seconds: float) -> Floats:
    return np.random.default_rng(SEED).uniform(-1.0, 1.0, round(seconds * RATE))


def _best(tool: Callable[[], object]) -> float:
    times = []
    for _ in range(RUNS):
        began = time.perf_counter()
        tool()
        times.append(time.perf_counter() - began)
    return min(times)


if __name__ == "__main__":
    main()
