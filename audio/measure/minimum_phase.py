"""First arrival through a path that smears: its minimum-phase part is taken back.

A cabinet does not answer at once: its correlation with the click peaks some frames after the sound
has begun to arrive. The response of a loudspeaker with a microphone before it is minimum phase to good
approximation (common practice, no source), so its magnitude, which can be measured without knowing the
delay, says how much it smears: log magnitude and phase are Hilbert transforms of each other (Oppenheim
and Schafer, *Discrete-Time Signal Processing*, on the cepstrum; from memory). The received click is
then looked for as that response would shape it, and the delay that is left is the arrival.

Where the response is under the noise or over the click's own band its magnitude is continued by the
slope it has there: a loudspeaker falls on, and how steeply decides a frame or two.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.correlation import Peaks, refine, self_likeness
from audio.measure.heard import Heard

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BEFORE_S = 0.0008
_AFTER_S = 0.0035
_FADE_S = 0.001
"""This much of the averaged correlation around its peak is the direct sound; what comes later is room."""

_EARLIEST_S = 0.0006
_LATEST_S = 0.0001
"""How far before and after the peak the response may begin."""

_LOWEST_HZ = 300.0
_WIDEST_GAP_HZ = 500.0
"""A notch this wide does not end the band that counts as measured."""
_SURE = 10.0
"""Power over the noise's from which a frequency counts as measured."""
_IN_BAND = 0.1
"""Share of its highest power that the click must have there."""
_OCTAVES_FOR_SLOPE = 0.7
_STEEPEST_PER_OCTAVE = -24.0 * np.log(10.0) / 20.0
"""Of the continued magnitude, nepers: midway between a fall that goes on as steeply as it was seen last
and one that ends in breakup and leakage where it can be seen no more."""
_OVER = 2
"""The magnitude is continued to this many times half the rate: a loudspeaker knows no rate."""
_FINER = 4
_STRONG = 0.5
"""An earlier likeness of at least this share of the largest is the arrival: in a path that delays some
frequencies, what it delays least comes first."""
_TOWARDS_WHITE = -0.75
"""How far the search whitens: 0 suits a path of minimum phase best, −1 lets the highest frequencies, which
a path that is not delays least, count like the others."""
_DEPARTS_SIGMAS = 5.0


@dataclass(frozen=True, kw_only=True)
class FirstArrival:
    """Where a path's response begins."""

    at: float
    """Fractional column of the curve."""
    sign: float
    """−1.0 or 1.0: whether the path turns the click over."""
    likeness: float
    """Share of the response whose phase this arrival and the least delay explain, 0 to 1."""


def first_arrival(heard: Heard, top: Peaks, *, rate: int) -> FirstArrival | None:
    """Find where a response begins whose correlation with the click peaks later.

    Parameters
    ----------
    heard
        The clicks together.
    top
        The exact top of their first peak.
    rate
        Frames a second.

    Returns
    -------
    FirstArrival | None
        None where the response does not depart from flat beyond its noise: the peak is the arrival.
    """
    window = _window(rate)
    column = round(float(top.at[0]))
    piece = window.cut(heard.together, column)
    clicks = heard.rows.shape[0]
    if not _departs(piece, window, top, noise=heard.noise**2 / clicks):
        return None
    spectrum = np.fft.rfft(piece, window.size)
    noise = window.noise_power(heard.quiet) / clicks
    shaped = window.likeness * _minimum_phase(np.abs(spectrum) ** 2, noise, window)
    weight = (np.abs(shaped) ** 2 + noise) ** _TOWARDS_WHITE
    return _search(spectrum * np.conj(shaped) * weight, window, column)


@dataclass(frozen=True, kw_only=True)
class _Window:
    """The piece of a curve that is looked at, and what a plain path would show in it."""

    rate: int
    before: int
    """Column of the piece at which the peak lies."""
    weights: NDArray[np.float64]
    size: int
    hz: NDArray[np.floating]
    likeness: NDArray[np.float64]
    """Spectrum of the pulse's correlation with itself."""

    def cut(self, curve: NDArray[np.float64], column: int) -> NDArray[np.float64]:
        """Return the weighted piece of a curve around a column."""
        padded = np.pad(curve, self.weights.size)
        start = column - self.before + self.weights.size
        return padded[start : start + self.weights.size] * self.weights

    def noise_power(self, quiet: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the mean power spectrum of noise seen through this window."""
        starts = range(0, quiet.size - self.weights.size, self.weights.size // 2)
        pieces = np.stack([quiet[s : s + self.weights.size] * self.weights for s in starts])
        power = np.abs(np.fft.rfft(pieces, self.size, axis=1)) ** 2
        return np.asarray(np.mean(power, axis=0))


@lru_cache(maxsize=4)
def _window(rate: int) -> _Window:
    before, after, fade = (round(s * rate) for s in (_BEFORE_S, _AFTER_S, _FADE_S))
    weights = np.ones(before + after)
    rise = before // 2
    weights[:rise] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(rise) + 0.5) / rise)
    weights[-fade:] = 0.5 + 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / fade)
    size = 1 << (2 * weights.size).bit_length()
    return _Window(
        rate=rate,
        before=before,
        weights=weights,
        size=size,
        hz=np.fft.rfftfreq(size, 1.0 / rate),
        likeness=self_likeness(size, rate),
    )


def _departs(piece: NDArray[np.float64], window: _Window, top: Peaks, *, noise: float) -> bool:
    """Return whether more is left than noise when a plain path's peak is taken out of the piece."""
    place = window.before + float(top.at[0]) - round(float(top.at[0]))
    turned = window.likeness * np.exp(-2j * np.pi * window.hz / window.rate * place)
    plain = float(top.height[0]) * np.fft.irfft(turned, window.size)[: piece.size]
    left = float(np.sum((piece - plain * window.weights) ** 2))
    free = float(np.sum(window.weights**2))
    # Band-limited noise has fewer independent values than frames.
    band = np.sum(window.likeness) ** 2 / np.sum(window.likeness**2) / window.likeness.size
    return left > noise * free * (1.0 + _DEPARTS_SIGMAS * float(np.sqrt(2.0 / (band * free))))


def _minimum_phase(
    power: NDArray[np.float64], noise: NDArray[np.float64], window: _Window
) -> NDArray[np.complex128]:
    """Return the response that has the measured magnitude and the least delay."""
    own = window.likeness
    clean = np.maximum(power - noise, 1e-3 * power) + np.finfo(float).tiny
    log = 0.5 * np.log(clean) - np.log(np.maximum(own, 1e-9))
    sure = (power > _SURE * noise) & (window.hz >= _LOWEST_HZ) & (own > _IN_BAND * np.max(own))
    low = int(np.argmax(sure))
    high = _end_of_band(sure, low, gap=round(_WIDEST_GAP_HZ / float(window.hz[1])))
    whole = _continued(log, low, high, window.hz)
    # Folding the cepstrum onto its causal half turns the log magnitude into log response.
    size = 2 * (whole.size - 1)
    cepstrum = np.fft.irfft(whole, size)
    cepstrum[1 : size // 2] *= 2.0
    cepstrum[size // 2 + 1 :] = 0.0
    return np.asarray(np.exp(np.fft.rfft(cepstrum)[: own.size]))


def _end_of_band(sure: NDArray[np.bool_], low: int, *, gap: int) -> int:
    """Return the last sure bin that no more than `gap` unsure ones separate from the one before."""
    bins = low + np.flatnonzero(sure[low:])
    wide = np.flatnonzero(np.diff(bins) > gap)
    if not bins.size:
        return low
    return int(bins[wide[0]] if wide.size else bins[-1])


def _continued(
    log: NDArray[np.float64], low: int, high: int, hz: NDArray[np.floating]
) -> NDArray[np.float64]:
    """Return a log magnitude held below its measured band and continued by its slope above."""
    whole = np.full(_OVER * (hz.size - 1) + 1, log[low])
    whole[low : high + 1] = log[low : high + 1]
    start = max(low, int(high / 2.0**_OCTAVES_FOR_SLOPE))
    slope, level = 0.0, float(log[high])
    if high - start >= 2:
        octaves = np.log2(hz[start : high + 1] / hz[high])
        slope, level = (float(v) for v in np.polyfit(octaves, log[start : high + 1], 1))
    above = np.log2(np.arange(high + 1, whole.size) / max(high, 1))
    whole[high + 1 :] = level + np.clip(slope, _STEEPEST_PER_OCTAVE, 0.0) * above
    return whole


def _search(cross: NDArray[np.complex128], window: _Window, column: int) -> FirstArrival:
    """Return the earliest strong likeness of either sign around the peak's column."""
    curve = np.fft.irfft(cross, _FINER * window.size)
    start = _FINER * (window.before - round(_EARLIEST_S * window.rate))
    end = _FINER * (window.before + round(_LATEST_S * window.rate)) + 1
    near = np.abs(curve[start:end])
    tops = (near[1:-1] >= near[:-2]) & (near[1:-1] >= near[2:])
    tops &= near[1:-1] >= _STRONG * np.max(near)
    first = int(np.argmax(tops)) + 1 if np.any(tops) else int(np.argmax(near))
    peak = refine(curve[None, :], np.asarray([start + first]))
    height = float(peak.height[0])
    # Were all phases explained, the curve would reach the sum of all magnitudes.
    most = float(np.fft.irfft(np.abs(cross), _FINER * window.size)[0])
    return FirstArrival(
        at=column + float(peak.at[0]) / _FINER - window.before,
        sign=float(np.sign(height)),
        likeness=min(abs(height) / most, 1.0),
    )
