"""Paths between an output and an input with known truth, for the tests of the click's reading.

Everything happens in the frequency domain, where a delay is exact to any fraction of a frame.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from audio.signals.click import click_train
from audio.vocab.results import ClickTrain

Floats = NDArray[np.float64]


def delayed(signal: Floats, frames: float, response: Floats | None = None) -> Floats:
    """Return the signal through a response, `frames` later, same length."""
    size = 1 << (2 * signal.size).bit_length()
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * frames)
    through = np.ones(1) if response is None else response
    spectrum = np.fft.rfft(signal, size) * np.fft.rfft(through, size) * turn
    return np.asarray(np.fft.irfft(spectrum, size)[: signal.size])


def noise(frames: int, *, dbfs: float, seed: int) -> Floats:
    """Return white noise of an RMS."""
    return np.random.default_rng(seed).standard_normal(frames) * 10 ** (dbfs / 20)


def heard(
    *,
    rate: int,
    clicks: int,
    delay: float,
    gain: float = 1.0,
    level_dbfs: float = -20.0,
    noise_dbfs: float | None = -80.0,
    seed: int = 1,
    response: Floats | None = None,
    through: Callable[[Floats], Floats] | None = None,
) -> tuple[Floats, ClickTrain]:
    """Return what an input records of a train, and the train."""
    signal, train = click_train(rate=rate, level_dbfs=level_dbfs, clicks=clicks)
    played = signal if through is None else through(signal)
    back = gain * delayed(played, delay, response)
    if noise_dbfs is not None:
        back = back + noise(back.size, dbfs=noise_dbfs, seed=seed)
    return back, train
