"""Paths between an output and an input with known truth, for the tests of the click's reading.

Everything happens in the frequency domain, where a delay is exact to any fraction of a frame.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft

from audio.signals.click import click_train
from audio.vocab.results import ClickTrain

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


def delayed(signal: Floats, frames: float, response: Floats | None = None) -> Floats:
    """Return the signal through a response, `frames` later, same length."""
    return _back(rfft(signal, _room(signal.size)), signal.size, frames, response)


def _back(spectrum: Complexes, size: int, frames: float, response: Floats | None) -> Floats:
    room = _room(size)
    through = spectrum * np.exp(frames * _turn(room))
    if response is not None:
        through *= rfft(response, room)
    return np.asarray(irfft(through, room)[:size])


@cache
def _room(frames: int) -> int:
    """Return a length at which nothing comes round again, and transforms are quick."""
    return int(next_fast_len(2 * frames, real=True))


@lru_cache(maxsize=4)
def _turn(room: int) -> Complexes:
    """Return what turns a phase by as much as one frame does."""
    return np.asarray(-2j * np.pi * np.fft.rfftfreq(room))


@lru_cache(maxsize=4)
def _train(rate: int, clicks: int, level_dbfs: float) -> tuple[Complexes, ClickTrain]:
    """Return the spectrum of a train, and the train: hundreds of trials play the same one."""
    signal, train = click_train(rate=rate, level_dbfs=level_dbfs, clicks=clicks)
    return rfft(signal, _room(signal.size)), train


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
    spectrum, train = _train(rate, clicks, level_dbfs)
    if through is not None:
        signal, _ = click_train(rate=rate, level_dbfs=level_dbfs, clicks=clicks)
        spectrum = rfft(through(signal), _room(train.frames))
    back = gain * _back(spectrum, train.frames, delay, response)
    if noise_dbfs is not None:
        back = back + noise(back.size, dbfs=noise_dbfs, seed=seed)
    return back, train
