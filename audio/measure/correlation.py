"""Correlation of a recording with the test click, and the exact place of its peaks.

The correlation with a known pulse is the maximum-likelihood search for it in white noise (Kay 1993,
*Fundamentals of Statistical Signal Processing: Estimation Theory*, ch. 3 and 7). Below 400 Hz it is
attenuated on both sides alike: hum and rumble live there, and almost none of what a click tells of time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.fades import rise
from audio.signals.click import half_frames, pulse

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LOWEST_HZ = 400.0
_NEWTON_STEPS = 6
_AROUND = 64
"""Frames on each side of a peak by which its curve is interpolated; the outer half is faded."""


@dataclass(frozen=True, kw_only=True)
class Peaks:
    """Tops of curves, one each."""

    at: NDArray[np.float64]
    """Fractional frame."""
    height: NDArray[np.float64]
    """Value there, with its sign."""
    bend: NDArray[np.float64]
    """Second derivative there, per frame squared."""


def correlate(recording: NDArray[np.float64], *, rate: int) -> NDArray[np.float64]:
    """Correlate with the pulse, scaled so that a pulse of peak *a* gives a peak of *a*.

    Parameters
    ----------
    recording
        (frames,) · linear.
    rate
        Frames a second.

    Returns
    -------
    NDArray[np.float64]
        (frames,) · linear · its value at frame *n* is the likeness to a pulse centred at *n*.
    """
    frames = recording.shape[0]
    size = 1 << (frames + 2 * half_frames(rate=rate)).bit_length()
    spectrum = np.fft.rfft(recording, size) * _kernel(size, rate)
    return np.asarray(np.fft.irfft(spectrum, size)[:frames])


@lru_cache(maxsize=8)
def _kernel(size: int, rate: int) -> NDArray[np.complex128]:
    """Conjugate spectrum of the centred pulse without its lows, over the energy that leaves."""
    half = half_frames(rate=rate)
    centred = np.zeros(size)
    grid = np.arange(-half, half + 1)
    centred[grid] = pulse(grid.astype(np.float64), rate=rate)
    spectrum = np.fft.rfft(centred)
    weight = high_pass(np.fft.rfftfreq(size, 1.0 / rate))
    energy = np.fft.irfft(np.abs(spectrum) ** 2 * weight, size)[0]
    return np.asarray(np.conj(spectrum) * weight / energy)


def self_likeness(size: int, rate: int) -> NDArray[np.float64]:
    """Return the spectrum, real and without phase, of the correlation of the pulse with itself.

    Parameters
    ----------
    size
        Frames of the transform.
    rate
        Frames a second.

    Returns
    -------
    NDArray[np.float64]
        (size // 2 + 1,) · its inverse has a peak of 1.0.
    """
    spectrum = _kernel(size, rate)
    half = half_frames(rate=rate)
    centred = np.zeros(size)
    grid = np.arange(-half, half + 1)
    centred[grid] = pulse(grid.astype(np.float64), rate=rate)
    return np.asarray((np.fft.rfft(centred) * spectrum).real)


def high_pass(hz: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return the gain, 0 to 1 and without phase, by which low frequencies are left out."""
    return hz**4 / (hz**4 + _LOWEST_HZ**4)


def refine(curves: NDArray[np.float64], at: NDArray[np.int64]) -> Peaks:
    """Find the exact top of one peak in each of several curves, by Newton's method.

    Parameters
    ----------
    curves
        (curves, frames) · values of band-limited curves.
    at
        (curves,) · frame of a local extreme of each · 0 to frames − 1.

    Returns
    -------
    Peaks
        Place, height and curvature of each top.
    """
    near = np.arange(-_AROUND, _AROUND)
    padded = np.pad(curves, ((0, 0), (_AROUND, _AROUND)))
    pieces = np.take_along_axis(padded, at[:, None] + near[None, :] + _AROUND, axis=1)
    spectrum = np.fft.fft(pieces * _fade(), axis=1)
    omega = 2.0 * np.pi * np.fft.fftfreq(near.size)
    place = np.zeros(at.size)
    for _ in range(_NEWTON_STEPS):
        _, slope, bend = _derivatives(spectrum, omega, place + _AROUND)
        step = np.divide(-slope, bend, out=np.zeros_like(slope), where=bend != 0.0)
        place = np.clip(place + step, -1.0, 1.0)
    height, _, bend = _derivatives(spectrum, omega, place + _AROUND)
    return Peaks(at=at + place, height=height, bend=bend)


def slope_rms(curve: NDArray[np.float64]) -> float:
    """Return the RMS of the derivative of a band-limited (frames,) curve, per frame."""
    faded = np.hanning(curve.shape[0]) * curve
    spectrum = np.fft.fft(faded)
    omega = 2.0 * np.pi * np.fft.fftfreq(curve.shape[0])
    power = np.sum((omega * np.abs(spectrum)) ** 2) / curve.shape[0]
    return float(np.sqrt(power / np.sum(np.hanning(curve.shape[0]) ** 2)))


@lru_cache(maxsize=1)
def _fade() -> NDArray[np.float64]:
    ramp = rise(_AROUND // 2)
    return np.concatenate((ramp, np.ones(_AROUND), ramp[::-1]))


def _derivatives(
    spectrum: NDArray[np.complex128], omega: NDArray[np.floating], place: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return value, first and second derivative of each curve at its fractional place."""
    turned = spectrum * np.exp(1j * np.outer(place, omega)) / omega.size
    value = np.sum(turned.real, axis=1)
    slope = np.sum((1j * omega * turned).real, axis=1)
    bend = np.sum((-(omega**2) * turned).real, axis=1)
    return value, slope, bend
