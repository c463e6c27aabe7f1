"""Phrases spliced from CC0 recordings of a guitar, their truth where each recording first moves.

The recordings are cut just before their first note: a few frames of silence, then it sounds. So the first
motion is where a file first goes over a five-hundredth of its peak, within 0.4 ms of its beginning; no
detector takes part in that. One of them begins with a scrape, 20 dB under the strike, 3 ms before it: what
a finder says of that one `alone` is its offset. Each piece ends before the next attack in its recording.
The recording of a slide swells and has no such place; it is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import soundfile
from needs import SAMPLES
from numpy.typing import NDArray

from hits.strings import Floats

RATE = 44_100
PIECES_S = {"guit_em9": 0.21, "guit_e_fifths": 0.48, "guit_harmonics": 0.19}
"""How long each may sound before its next attack."""
_FADE_S = 0.06
_LEVELS_DB = (-18.0, -10.0, -3.0)


@dataclass(frozen=True, kw_only=True)
class Spliced:
    """A phrase at 44.1 kHz, where its hits begin, and which recording each is."""

    samples: NDArray[np.float32]
    hits_s: list[float]
    keys: list[str]


def spliced(*, seed: int, notes: int = 30, noise_dbfs: float = -75.0) -> Spliced:
    """Return a phrase of pieces in any order and at any level, over noise."""
    draw = np.random.default_rng([seed, 5])
    at = 0.4 + np.cumsum(draw.uniform(0.12, 0.45, notes))
    out = draw.normal(0, 10 ** (noise_dbfs / 20), round((at[-1] + 1) * RATE))
    hits, names = [], []
    for s, after in zip(at, [*at[1:], at[-1] + 0.5], strict=True):
        name = list(PIECES_S)[draw.integers(len(PIECES_S))]
        hits.append(_added(out, name, s, after - s + _FADE_S / 2, draw.uniform(-18, -3)))
        names.append(name)
    return Spliced(samples=out.astype(np.float32), hits_s=hits, keys=names)


def alone() -> Spliced:
    """Return each recording by itself, softly, usually and loud."""
    names = [name for name in PIECES_S for _ in _LEVELS_DB]
    out = np.random.default_rng(5).normal(0, 10 ** (-75 / 20), (len(names) + 1) * RATE)
    hits = [
        _added(out, name, 0.5 + n, 1.0, _LEVELS_DB[n % len(_LEVELS_DB)])
        for n, name in enumerate(names)
    ]
    return Spliced(samples=out.astype(np.float32), hits_s=hits, keys=names)


def _added(out: Floats, name: str, at_s: float, longest_s: float, level_db: float) -> float:
    """Add a piece; return where its recording first moves, s."""
    sound, moves = _recording(name)
    size = round(min(PIECES_S[name], longest_s) * RATE)
    piece = sound[:size] * 10 ** (level_db / 20)
    fade = min(size, round(_FADE_S * RATE))
    piece[size - fade :] *= np.linspace(1, 0, fade)
    begin = round(at_s * RATE)
    out[begin : begin + size] += piece
    return (begin + moves) / RATE


@cache
def _recording(name: str) -> tuple[Floats, int]:
    """Return a recording, its peak 1, and the frame of its first motion."""
    sound = soundfile.read(SAMPLES / f"{name}.flac", always_2d=True)[0][:, 0]
    sound = sound / np.max(np.abs(sound))
    return sound, int(np.argmax(np.abs(sound) > 0.002))
