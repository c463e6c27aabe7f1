"""A-weighting after IEC 61672-1, applied to a signal's power over frequency.

Weighting power where it lies meets the standard's formula at every frequency; a digital filter made from it
by the bilinear transform would fall too early near half the rate.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.spectrum import even, power_by_hz
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_POLES_HZ = (20.598997, 107.65265, 737.86223, 12194.217)
"""IEC 61672-1:2013, annex E, from memory; the first and the last are double."""


def a_weighting(hz: Floats) -> Floats:
    """Return by how much A-weighting multiplies power.

    Parameters
    ----------
    hz
        Any shape · frequency, 0 or more.

    Returns
    -------
    NDArray[np.float64]
        The same shape, 1 at 1 kHz; IEC 61672-1:2013, formula E.1.
    """
    return np.asarray(_unscaled(hz) / _unscaled(np.array(1000.0)))


def a_weighted_dbfs(signal: NDArray[np.floating], *, rate: int) -> float:
    """Return the A-weighted RMS of a stretch.

    Parameters
    ----------
    signal
        (frames,) · linear. Its first and last quarter of a second count less than the rest, so that
        where it was cut is not heard.
    rate
        Frames a second.

    Returns
    -------
    float
        dBFS, plain: 0 is an RMS of 1.0.
    """
    return weighted_dbfs(power_by_hz(signal, rate=rate, window=even))


def weighted_dbfs(power: Floats) -> float:
    """Return the A-weighted RMS, dBFS, of power at each whole hertz as `RunningPower` tells it."""
    return db_from_ratio(float(np.sqrt(np.dot(power, _by_hz(power.size)))))


@lru_cache(maxsize=4)
def _by_hz(bins: int) -> Floats:
    return a_weighting(np.arange(bins, dtype=np.float64))


def _unscaled(hz: Floats) -> Floats:
    squared = hz * hz
    low, second, third, high = (pole * pole for pole in _POLES_HZ)
    return np.asarray(
        (high * squared**2) ** 2
        / ((squared + low) ** 2 * (squared + second) * (squared + third) * (squared + high) ** 2)
    )
