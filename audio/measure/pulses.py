"""What may have left a saturating amp when a test click entered it: the pulse, driven ever harder.

A curve without memory that treats both signs alike leaves a symmetric pulse symmetric: it changes the
magnitude of its spectrum and at most the sign, never its delay. Which of these pulses it was cannot be
known beforehand; the path's phase tells (`audio.measure.first_arrival`).
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from audio.signals.click import half_frames, pulse
from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from numpy.typing import NDArray

DRIVES_DB = (-60, -6, -3, 0, 3, 6, 9, 12, 15, 18, 21, 24, 28, 32, 36)
"""Peak of the pulse over the knee of the curve; the first is a curve that is straight. What lies between
two neighbours differs from them by less than the phases can tell."""

_OVER = 8
"""Times the rate at which the curve is applied, so that what it makes over half the rate does not fold."""


@lru_cache(maxsize=4)
def saturated(rate: int, size: int) -> NDArray[np.float64]:
    """Return the spectra of the centred pulse after each of `DRIVES_DB`.

    Parameters
    ----------
    rate
        Frames a second.
    size
        Frames of the transform, even, longer than the pulse.

    Returns
    -------
    NDArray[np.float64]
        (drives, size // 2 + 1) · real: a symmetric pulse has no phase.
    """
    reach = half_frames(rate=rate) * _OVER
    grid = np.arange(-reach, reach + 1)
    clean = pulse(grid / _OVER, rate=rate)
    spectra = []
    for drive in DRIVES_DB:
        hot = ratio_from_db(drive)
        centred = np.zeros(size * _OVER)
        centred[grid] = np.tanh(hot * clean) / np.tanh(hot)
        spectra.append(np.fft.rfft(centred)[: size // 2 + 1].real / _OVER)
    return np.stack(spectra)
