"""A phrase, an amp with a curve and a loudspeaker, and what its microphone records: all of known truth."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from playing import phrase
from scipy import signal

from audio.measure.likeness import Phrase

RATE = 48_000
NOISE_DBFS = -90.0

Floats = NDArray[np.float64]


@cache
def di() -> Floats:
    """Return six seconds of playing with a rest of a second before and behind."""
    rest = np.zeros(RATE)
    return np.concatenate((rest, phrase(rate=RATE, seconds=6.0, seed=5), rest))


@cache
def played() -> Phrase:
    return Phrase(di(), rate=RATE)


@cache
def amplified(drive_db: float) -> Floats:
    """Return the phrase through a curve and a loudspeaker."""
    bent = 0.2 * np.tanh(di() * 10.0 ** (drive_db / 20.0))
    speaker = signal.butter(2, (90.0, 5000.0), "bandpass", fs=RATE, output="sos")
    return np.asarray(signal.sosfilt(speaker, bent))


def noise(seed: int, dbfs: float = NOISE_DBFS) -> Floats:
    drawn = np.random.default_rng(seed).standard_normal(di().size)
    return np.asarray(10.0 ** (dbfs / 20.0) * drawn)


def later(sound: Floats, frames: float) -> Floats:
    """Return a sound later by some frames, by a turn of its phase; it rests at its ends."""
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(sound.size) * frames)
    return np.asarray(np.fft.irfft(np.fft.rfft(sound) * turn, sound.size))


def with_bell(sound: Floats, db: float, hz: float = 3000.0, q: float = 1.4) -> Floats:
    """Return a sound with a bell in it: a resonance of two poles added to what is there.

    (s² + s·g/Q + 1)/(s² + s/Q + 1) has the gain g at its middle.
    """
    gain, turn = 10.0 ** (db / 20.0), 2.0 * np.pi * hz
    above, below = (1.0, turn * gain / q, turn**2), (1.0, turn / q, turn**2)
    return np.asarray(signal.lfilter(*signal.bilinear(above, below, fs=RATE), sound))
