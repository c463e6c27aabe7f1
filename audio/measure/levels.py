"""Levels of arrays: peak, RMS plain and after AES17, RMS by windows, and the lines of the mains.

All unweighted: A-weighting would hide 50 Hz by 30 dB (IEC 61672-1), and hum is what an amp adds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from audio.vocab.units import SILENCE_DBFS, SINE_DB, db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

FULL_SCALE = 1.0 - 2.0**-23
"""The largest positive 24-bit code; a float file of a clipped converter holds it or 1.0."""

MAINS_LINES = 6
"""The mains frequency and its first harmonics that are looked at."""

_STANDS_OUT = 6.0
"""Power of the lines over the noise between them. Both are means of at least 12 squared Gaussians:
an F(12, 14) variate passes 6 by chance less than once in 500 times."""


@dataclass(frozen=True, kw_only=True)
class Mains:
    """Hum that stands out of the noise."""

    hz: Literal[50, 60]
    dbfs: float
    """RMS of all its lines together."""


def peak_dbfs(signal: NDArray[np.floating]) -> float:
    """Return the largest absolute sample of an array of any shape, dBFS."""
    return db_from_ratio(float(np.max(np.abs(signal), initial=0.0)))


def rms(signal: NDArray[np.floating]) -> float:
    """Return the linear RMS of an array of any shape, direct current included; 0 when empty."""
    flat = np.asarray(signal, dtype=np.float64).ravel()
    return float(np.sqrt(np.dot(flat, flat) / flat.size)) if flat.size else 0.0


def rms_dbfs(signal: NDArray[np.floating]) -> float:
    """Return the RMS of an array of any shape, dBFS, direct current included."""
    return db_from_ratio(rms(signal))


def aes17_dbfs(rms_dbfs: float) -> float:
    """Return a plain RMS over that of a full-scale sine, which reads 0 (AES17); silence stays silence."""
    return rms_dbfs if rms_dbfs <= SILENCE_DBFS else rms_dbfs + SINE_DB


def window_levels_dbfs(signal: NDArray[np.floating], *, window: int) -> tuple[float, ...]:
    """Return the RMS of each whole window of a (frames,) signal, dBFS; what is left over is not told."""
    whole = np.asarray(signal, dtype=np.float64)[: signal.shape[0] // window * window]
    rows = whole.reshape(-1, window)
    return tuple(db_from_ratio(float(np.sqrt(p))) for p in np.mean(rows * rows, axis=1))


def mains(quiet: NDArray[np.float64], *, rate: int) -> Mains | None:
    """Look for mains hum in a stretch without music.

    Parameters
    ----------
    quiet
        (frames,) · linear · at least 0.2 s, so that 50 and 60 Hz are told apart.
    rate
        Frames a second.

    Returns
    -------
    Mains | None
        The stronger of 50 and 60 Hz with the RMS of its first six lines, or None when neither
        stands out of the noise between its lines.
    """
    if quiet.shape[0] < 0.2 * rate:
        return None
    power = _power_by_hz(quiet, rate)
    found = [m for m in (_lines(power, 50), _lines(power, 60)) if m is not None]
    return max(found, key=lambda m: m.dbfs, default=None)


def _lines(power: NDArray[np.float64], hz: Literal[50, 60]) -> Mains | None:
    """Return the lines of one mains frequency where they stand out of what lies between them."""
    between = power[hz // 2 : hz * (MAINS_LINES + 1) : hz]
    lines = power[hz : hz * MAINS_LINES + 1 : hz]
    if not np.mean(lines) > _STANDS_OUT * np.mean(between):
        return None
    alone = max(float(np.sum(lines) - MAINS_LINES * np.mean(between)), 0.0)
    return Mains(hz=hz, dbfs=db_from_ratio(float(np.sqrt(alone))))


def _power_by_hz(quiet: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
    """Return the mean square of a sine at each whole hertz, seen through a Hann window."""
    window = np.hanning(quiet.shape[0])
    # Filled up to a second, a transform's bins are one hertz apart.
    spectrum = np.fft.rfft((quiet - np.mean(quiet)) * window, rate)
    return np.asarray(2.0 * np.abs(spectrum / np.sum(window)) ** 2)
