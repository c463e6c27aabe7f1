"""Third-octave bands after IEC 61260-1: what they are called, where they end, how loud a sound is in each.

A band takes the power that lies between its edges; a bin that an edge cuts is shared. For a steady tone
that is a filter steeper than class 1 asks for, seen through windows of a second from 50 Hz on.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from audio.vocab.levels import ThirdLevel
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

NOMINAL_HZ = (
    *(50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0),
    *(1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0, 10_000.0),
    *(12_500.0, 16_000.0),
)
"""What the bands are called: IEC 61260-1:2014, annex E (from memory). The next one ends over 22 kHz."""

_HALF = 10.0**0.05
"""From the middle of a band to its edge."""


def thirds_between(low_hz: float, high_hz: float) -> tuple[float, ...]:
    """Return the names of the bands from one to another, both included."""
    return tuple(hz for hz in NOMINAL_HZ if low_hz <= hz <= high_hz)


def exact_hz(nominal_hz: float) -> float:
    """Return the middle of a band: IEC 61260-1:2014, formula 2, base ten (from memory)."""
    return float(1000.0 * 10.0 ** (round(10.0 * np.log10(nominal_hz / 1000.0)) / 10.0))


def edges_hz(nominal_hz: float) -> tuple[float, float]:
    """Return where a band begins and ends: the same, formulas 4 and 5 (from memory)."""
    middle = exact_hz(nominal_hz)
    return middle / _HALF, middle * _HALF


def shares(hz: Floats, nominal_hz: tuple[float, ...], *, bin_hz: float) -> Floats:
    """Return which share of each bin of a spectrum lies in each band.

    Parameters
    ----------
    hz
        (bins,) · middle of each bin.
    nominal_hz
        The bands' names.
    bin_hz
        How wide a bin is.

    Returns
    -------
    NDArray[np.float64]
        (bins, bands) · 0 to 1.
    """
    low, high = np.array([edges_hz(nominal) for nominal in nominal_hz]).T
    middle = hz[:, None]
    inside = np.minimum(middle + bin_hz / 2.0, high) - np.maximum(middle - bin_hz / 2.0, low)
    return np.asarray(np.clip(inside / bin_hz, 0.0, 1.0))


def third_levels(power: Floats) -> tuple[ThirdLevel, ...]:
    """Return the RMS in each band of power at each whole hertz, as seen through `even`."""
    inside = power @ _by_hz(power.size)
    return tuple(
        ThirdLevel(hz=hz, dbfs=db_from_ratio(float(np.sqrt(one))))
        for hz, one in zip(NOMINAL_HZ, inside, strict=True)
    )


@lru_cache(maxsize=4)
def _by_hz(bins: int) -> Floats:
    return shares(np.arange(bins, dtype=np.float64), NOMINAL_HZ, bin_hz=1.0)
