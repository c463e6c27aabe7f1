"""Drawn parts: hits with a known place, as hands that spread would play them."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass

from audio.grid.bars import BarGrid, bar_grid
from audio.vocab.readiness import Hit
from audio.vocab.session_file import Song

RATE = 48_000
START = 24_000
"""Frame of bar 1."""

PLAYED = {
    "quarters": 1,
    "eighths": 2,
    "triplets": 3,
    "sixteenths": 4,
    "swung eighths": 2,
    "mixed": 2,
}
"""What parts are drawn, and their parts of a beat; mixed is eighths, every fifth bar or so in triplets."""

_KEPT = {"quarters": 0.85, "sixteenths": 0.7, "swung eighths": 0.85}
"""Share of the places that are played, 0.8 of the others."""


@dataclass(frozen=True)
class Part:
    """A drawn part and its truth."""

    hits: list[Hit]
    parts: int
    swing: float | None
    fills: set[int]


def dice(seed: int) -> random.Random:
    """Chance that is the same every time."""
    return random.Random(seed)  # noqa: S311  # nothing is kept secret by it


def grid(bpm: int, *, later: int = 0, metre: str = "4/4") -> BarGrid:
    """Bars that begin at `START`, or so many frames later."""
    song = Song(name="drawn", bpm=bpm, metre=metre, song_start_s=START / RATE)
    bars = bar_grid(song, time_reference=-later, rate=RATE)
    assert bars is not None
    return bars


def hits_at(frames: Iterable[float], *, width_ms: float = 0.0) -> list[Hit]:
    return [
        Hit(frame=frame, width_ms=width_ms, level_dbfs=-12.0, confidence=0.9)
        for frame in sorted(frames)
    ]


def steps(parts: int, swing: float | None = None) -> list[float]:
    """Places within a beat, written out apart from the program."""
    late = 0.0 if swing is None else (2.0 * swing - 1.0) / parts
    return [at / parts + (late if at % 2 else 0.0) for at in range(parts)]


def drawn(kind: str, *, rng: random.Random, hits: int, spread_ms: float, bpm: int) -> Part:
    """Draw a part that drags or pushes a little (12 ms, one standard deviation)."""
    swing = rng.uniform(0.55, 0.70) if kind == "swung eighths" else None
    beat_ms, lag = 60_000 / bpm, rng.gauss(0.0, 12.0)
    fills: set[int] = set()
    late: list[float] = []
    beat = 0
    while len(late) < hits:
        places = steps(PLAYED[kind], swing)
        if kind == "mixed" and beat // 4 % 5 == 3:
            places = steps(3)
            fills.add(beat // 4 + 1)
        for place in places:
            if rng.random() < _KEPT.get(kind, 0.8) and len(late) < hits:
                late.append((beat + place) * beat_ms + lag + rng.gauss(0.0, spread_ms))
        beat += 1
    return Part(hits_at(START + at * RATE / 1000.0 for at in late), PLAYED[kind], swing, fills)


def at_random(*, rng: random.Random, hits: int, bpm: int) -> list[Hit]:
    """Draw hits that know no beat, two a beat on the average."""
    wide = hits / 2 * 60 * RATE / bpm
    return hits_at(START + rng.uniform(0.0, wide) for _ in range(hits))
