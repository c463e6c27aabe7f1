"""The set-up tone: a sine for a voltmeter, with a ramp at either end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from numpy.typing import NDArray

RAMP_S = 0.5
"""Slow enough for a speaker that was left on, and for a voltmeter to follow."""


def tone(*, hz: float, level_dbfs: float, seconds: float, rate: int) -> NDArray[np.float64]:
    """Return a sine that rises and falls over `RAMP_S`.

    Parameters
    ----------
    hz
        Its frequency.
    level_dbfs
        Its peak.
    seconds
        Its length, ramps included, more than two of them.
    rate
        Frames a second.

    Returns
    -------
    NDArray[np.float64]
        (frames,) · linear.
    """
    at = np.arange(round(seconds * rate))
    nearest = np.minimum(at, at.size - 1 - at) / (RAMP_S * rate)
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.minimum(nearest, 1.0))
    return np.asarray(ratio_from_db(level_dbfs) * ramp * np.sin(2.0 * np.pi * hz * at / rate))
