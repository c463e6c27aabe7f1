"""DIs of the benchmarks, made of the same CC0 guitar recordings as those of the tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import report  # noqa: F401 - makes the tests' own modules found
import soundfile
from needs import GUITARS
from numpy.typing import NDArray
from playing import phrase

from audio.vocab.units import ratio_from_db

RATE = 48_000
PEAK_DBFS = -6.0
_ONCE_S = 30.0
"""A long DI is a phrase of this length over and over."""
_CHUG_S = 0.125
"""A sixteenth at 120 beats a minute."""
_RING_S = 0.030
"""How fast a muted string dies: to a third in so long (common practice, no source)."""

Floats = NDArray[np.float64]


def write_di(path: Path, samples: Floats) -> Path:
    """Write a DI as 24-bit WAV, its peak at −6 dBFS."""
    loud = samples * (ratio_from_db(PEAK_DBFS) / np.max(np.abs(samples)))
    soundfile.write(path, loud, RATE, "PCM_24")
    return path


def write_long_di(path: Path, *, seconds: float) -> Path:
    """Write a DI of any length, a phrase at a time, so that memory stays small."""
    once = phrase(rate=RATE, seconds=_ONCE_S, seed=1, peak_dbfs=PEAK_DBFS)
    left = round(seconds * RATE)
    with soundfile.SoundFile(path, "w", RATE, 1, "PCM_24") as file:
        while left > 0:
            file.write(once[:left])
            left -= len(once)
    return path


def slow_chords(*, seconds: float) -> Floats:
    """Return a chord that rings for ten seconds, struck again and again, shape (frames,)."""
    samples = _recording(GUITARS[2])
    return np.tile(samples, -(-round(seconds * RATE) // len(samples)))[: round(seconds * RATE)]


def palm_muted(*, seconds: float, seed: int) -> Floats:
    """Return a palm-muted riff: sixteenth after sixteenth, each damped as a muted string is.

    A hit is the attack one of two recordings begins with, or a piece from where its strings ring, gated
    open; which, how loud and how far off the beat (10 ms at most) follow from the seed.
    """
    draw = np.random.default_rng(seed)
    rings = [_recording(path) for path in GUITARS[:2]]
    size = round(_CHUG_S * RATE)
    mute = np.exp(-np.arange(size) / (_RING_S * RATE))
    mute[-96:] *= np.linspace(1.0, 0.0, 96)
    chugs = []
    for number in range(round(seconds / _CHUG_S)):
        ring = rings[draw.integers(2)]
        at = 0 if number % 4 == 0 else draw.integers(RATE)
        chug = ring[at : at + size] / np.max(np.abs(ring[at : at + size]))
        late = draw.integers(RATE // 100)
        chugs.append(np.roll(chug * mute * draw.uniform(0.5, 1.0), late))
    return np.concatenate(chugs)


def _recording(path: Path) -> Floats:
    """Return a recording, mono, as if it were made at 48 kHz: a semitone and a half sharp."""
    return soundfile.read(path, always_2d=True)[0][:, 0]
