"""Phrases spliced from CC0 recordings of a guitar, their truth where each recording first moves.

The recordings are cut just before their first note: a few frames of silence, then it sounds. So the first
motion is where a file first goes over a five-hundredth of its peak, within 0.4 ms of its beginning; no
detector takes part in that. Each piece ends before the next attack in its recording. The recording of a
slide swells and has no such place; it is left out.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import soundfile
from needs import SAMPLES

from hits.strings import Floats

RATE = 44_100
PIECES_S = {"guit_em9": 0.21, "guit_e_fifths": 0.48, "guit_harmonics": 0.19}
"""How long each may sound before its next attack."""
_FADE_S = 0.06


def spliced(*, seed: int, notes: int = 30, noise_dbfs: float = -75.0) -> tuple[Floats, list[float]]:
    """Return a phrase at 44.1 kHz, shape (frames,), and where its hits begin, s."""
    draw = np.random.default_rng([seed, 5])
    at = 0.4 + np.cumsum(draw.uniform(0.12, 0.45, notes))
    out = draw.normal(0, 10 ** (noise_dbfs / 20), round((at[-1] + 1) * RATE))
    hits = []
    for s, after in zip(at, [*at[1:], at[-1] + 0.5], strict=True):
        name = list(PIECES_S)[draw.integers(len(PIECES_S))]
        sound, moves = _recording(name)
        size = round(min(PIECES_S[name], after - s + _FADE_S / 2) * RATE)
        piece = sound[:size] * 10 ** (draw.uniform(-18, -3) / 20)
        fade = min(size, round(_FADE_S * RATE))
        piece[size - fade :] *= np.linspace(1, 0, fade)
        begin = round(s * RATE)
        out[begin : begin + size] += piece
        hits.append((begin + moves) / RATE)
    return out, hits


@cache
def _recording(name: str) -> tuple[Floats, int]:
    """Return a recording, its peak 1, and the frame of its first motion."""
    sound = soundfile.read(SAMPLES / f"{name}.flac", always_2d=True)[0][:, 0]
    sound = sound / np.max(np.abs(sound))
    return sound, int(np.argmax(np.abs(sound) > 0.002))
