"""DIs of real playing for the benchmarks: CC0 guitar recordings of Debian's sonic-pi-samples, strung up.

They are recorded at 44.1 kHz and used as if at 48: a semitone and a half sharp, every attack as it was
played.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
from needs import GUITARS
from numpy.typing import NDArray

from audio.vocab.units import ratio_from_db

RATE = 48_000
PEAK_DBFS = -6.0
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
    """Write the four recordings over and over, for so long; a piece at a time, so memory stays small."""
    once = phrase(GUITARS)
    loud = once * (ratio_from_db(PEAK_DBFS) / np.max(np.abs(once)))
    left = round(seconds * RATE)
    with soundfile.SoundFile(path, "w", RATE, 1, "PCM_24") as file:
        while left > 0:
            file.write(loud[:left])
            left -= len(loud)
    return path


def phrase(recordings: tuple[Path, ...]) -> Floats:
    """Return recordings one after another, mono, shape (frames,)."""
    parts = [soundfile.read(path, always_2d=True)[0][:, 0] for path in recordings]
    return np.concatenate([part / np.max(np.abs(part)) for part in parts])


def cut(samples: Floats, *, seconds: float) -> Floats:
    """Return so much of a phrase, repeated where it is too short."""
    frames = round(seconds * RATE)
    return np.tile(samples, -(-frames // len(samples)))[:frames]


def chugging(*, seconds: float, seed: int) -> Floats:
    """Return a palm-muted riff: sixteenth after sixteenth, each damped as a muted string is.

    A hit is the attack one of two recordings begins with, or a piece from where its strings ring, gated
    open; which, how loud and how far off the beat (10 ms at most) follow from the seed.
    """
    draw = np.random.default_rng(seed)
    rings = [phrase((path,)) for path in GUITARS[:2]]
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
