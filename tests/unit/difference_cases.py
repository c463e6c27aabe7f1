"""Two sounds whose difference is known: notes drawn from a seed, and what is done to them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy import signal

from audio.measure.differences import differences
from audio.measure.heard_sound import RunningDi, RunningSound
from audio.vocab.differences import Differences

RATE = 16_000
SECONDS = 18

Floats = np.ndarray


@lru_cache(maxsize=2)
def di(seed: int = 1) -> Floats:
    """Return notes of half a second that stop dead, each with a rest of as long behind it.

    Shape (frames,), peak −6 dBFS; noise under a string's decay, so that every band is filled.
    """
    draw = np.random.default_rng(seed)
    out = np.zeros(SECONDS * RATE)
    for at in range(SECONDS - 2):
        frames = RATE // 2
        note = draw.standard_normal(frames) * np.exp(-np.arange(frames) / (0.3 * RATE))
        out[at * RATE : at * RATE + frames] = note * draw.uniform(0.7, 1.0)
    return 0.5 * out / np.max(np.abs(out))


def noise(dbfs: float, seed: int) -> Floats:
    return 10 ** (dbfs / 20) * np.random.default_rng(seed).standard_normal(SECONDS * RATE)


def shelf(hz: float, db: float) -> tuple[Floats, Floats]:
    """Return a high shelf's coefficients: R. Bristow-Johnson's cookbook, slope 1 (from memory)."""
    root, turn = 10 ** (db / 40), 2 * np.pi * hz / RATE
    c, s = np.cos(turn), np.sin(turn) * np.sqrt(2.0) * np.sqrt(root)
    b = root * np.array(
        [
            root + 1 + (root - 1) * c + s,
            -2 * (root - 1 + (root + 1) * c),
            root + 1 + (root - 1) * c - s,
        ]
    )
    a = np.array(
        [
            root + 1 - (root - 1) * c + s,
            2 * (root - 1 - (root + 1) * c),
            root + 1 - (root - 1) * c - s,
        ]
    )
    return b / a[0], a / a[0]


def echoed(sound: Floats, *, ms: float, db: float) -> Floats:
    late, out = round(ms / 1000 * RATE), sound.copy()
    out[late:] += 10 ** (db / 20) * sound[:-late]
    return out


def reverberant(sound: Floats, *, falls_s: float) -> Floats:
    """Return a sound with a reverb that falls by 60 dB in so long, 6 dB under it in all."""
    frames = round(falls_s * RATE)
    tail = np.random.default_rng(5).standard_normal(frames)
    tail *= 10 ** (-3.0 * np.arange(frames) / frames)
    tail *= 10 ** (-6 / 20) / np.sqrt(np.sum(tail**2))
    return sound + signal.oaconvolve(sound, tail)[: sound.size]


def compared(
    a: Floats, b: Floats, *, step: int = 4 * RATE, played: Floats | None = None
) -> Differences:
    """Return the differences of two sounds that come in pieces of so many frames."""
    bare = di() if played is None else played
    running = RunningDi(rate=RATE), RunningSound(rate=RATE), RunningSound(rate=RATE)
    for at in range(0, bare.size, step):
        for one, sound in zip(running, (bare, a, b), strict=True):
            one.feed(sound[at : at + step])
    return differences(*running, rate=RATE, from_frame=0, frames=bare.size)
