"""All attacks together: the response from the driven DI to the recording, and where it begins.

Cross-spectrum over auto-spectrum, summed over attacks that are each whitened first, so that the notes fill
each other's gaps; what is not coherent between them is noise (Bendat and Piersol, *Random Data*, on
frequency response functions; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.whitened import Geometry

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Pair = tuple[NDArray[np.complex64], NDArray[np.complex64]]
    """Spectra of a cut stretch: DI, recording."""

_RING_S = 0.012
_RAMP_S = 0.006
_SMOOTH_HZ = 100.0
SIZE = 2048
"""Of the transform of a cut stretch, low-rate frames: none is longer than 80 ms."""

_BEFORE_S, _AFTER_S, _FADE_S = 0.0008, 0.0035, 0.001
"""This much of the response around its peak is the direct sound; what comes later is room."""
_EARLIEST_S, _LATEST_S = 0.0008, 0.00015
"""How far before and after the peak of the response its beginning may lie."""
_LOWEST_HZ, _HIGHEST_HZ = 150.0, 6000.0
_IN_BAND_HZ = (60.0, 140.0, 5500.0, 7000.0)
_SEARCH_HZ = (80.0, 200.0, 5000.0, 6500.0)
_OCTAVES_FOR_SLOPE = 0.7
_STEEPEST = -24.0 * np.log(10.0) / 20.0
"""Of the continued magnitude, nepers an octave."""
_PIECE = 1024
_OVER = 4
_FINER = 8
_NEAR = 4


@dataclass(frozen=True, kw_only=True)
class Pooled:
    """Spectra of attacks, summed."""

    cross: NDArray[np.complex128]
    """(bins,) · conjugate of the DI's times the recording's."""
    auto: NDArray[np.float64]
    """(bins,) · of the DI."""
    noise: NDArray[np.float64]
    """(bins,) · power of the recording that is not coherent with the DI, a strike."""
    rate: float
    """Low rate."""


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """Where a response begins."""

    at: float
    """Low-rate frames."""
    sign: float
    height: float
    """Share of the response that this arrival explains, 0 to 1."""
    against: float
    """The same of the strongest one of the other sign nearby."""


def cut(
    di: NDArray[np.complex64], recording: NDArray[np.complex64], shape: Geometry, *, column: int
) -> tuple[NDArray[np.complex64], NDArray[np.complex64]]:
    """Return the spectra of a stretch of the DI and of the recording `column` low-rate frames on.

    Parameters
    ----------
    di
        Spectrum of `Geometry.size`.
    recording
        Likewise.
    shape
        Their lengths.
    column
        Of the curve · 0 is the beginning of what was searched.

    Returns
    -------
    tuple
        Both (SIZE // 2 + 1,).
    """
    frames = shape.stretch // shape.step
    ring, ramp = round(_RING_S * shape.low_rate), round(_RAMP_S * shape.low_rate)
    fade = np.ones(frames + ring, dtype=np.float32)
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
    fade[:ramp], fade[-ramp:] = rise, rise[::-1]
    heard = fft.irfft(recording, shape.size)[column : column + fade.size]
    played = fft.irfft(di, shape.size)[:frames]
    return fft.rfft(played, SIZE), fft.rfft(heard * fade[: heard.size], SIZE)


def pool(
    pairs: Sequence[Pair],
    late: NDArray[np.float64],
    *,
    rate: float,
) -> Pooled:
    """Sum the spectra of cut stretches.

    Parameters
    ----------
    pairs
        Of DI and recording.
    late
        (pairs,) · low-rate frames by which each recording is late; taken out.
    rate
        Low rate.

    Returns
    -------
    Pooled
        Nothing but sums: what the strikes have in common.
    """
    turn = 2j * np.pi * np.arange(SIZE // 2 + 1) / SIZE
    bins = max(1, round(_SMOOTH_HZ * SIZE / rate))
    cross = np.zeros(SIZE // 2 + 1, dtype=np.complex128)
    auto, total = np.zeros(SIZE // 2 + 1), np.zeros(SIZE // 2 + 1)
    for (di, recording), frames in zip(pairs, late, strict=True):
        power = np.abs(di.astype(np.complex128)) ** 2
        weight = 1.0 / (_smooth(power, bins) + 1e-6 * np.max(power) + 1e-30)
        cross += weight * np.conj(di) * recording * np.exp(turn * frames)
        auto += weight * power
        total += weight * np.abs(recording.astype(np.complex128)) ** 2
    auto += 1e-12 * np.max(auto, initial=1e-30)
    noise = np.maximum(total - np.abs(cross) ** 2 / auto, 0.0) / max(len(pairs), 1)
    return Pooled(cross=cross, auto=auto, noise=noise, rate=rate)


def first_arrival_of(pooled: Pooled) -> Arrival:
    """Find where a response begins that peaks later, by taking its least phase back.

    Parameters
    ----------
    pooled
        The attacks together, roughly in place: within half of `SIZE`.

    Returns
    -------
    Arrival
        Its `at` counts from where the attacks were put.
    """
    response = pooled.cross / pooled.auto
    hz = np.arange(response.size) * (pooled.rate / SIZE)
    band = np.interp(hz, _IN_BAND_HZ, (0.0, 1.0, 1.0, 0.0))
    white = fft.irfft(response / (np.abs(response) + 1e-30) * band, SIZE)
    top = int(np.argmax(np.abs(white)))
    top = (top + SIZE // 2) % SIZE - SIZE // 2
    before, piece = _direct(fft.irfft(response * band, SIZE), top, pooled.rate)
    spectrum = fft.rfft(piece, _PIECE)
    hz = np.arange(spectrum.size) * (pooled.rate / _PIECE)
    least = _least_phase(spectrum, np.interp(hz, _IN_BAND_HZ, (0.0, 1.0, 1.0, 0.0)), hz)
    return _search(spectrum * np.conj(least), hz, pooled.rate, before=before, top=top)


def own_lateness(pair: Pair, pooled: Pooled) -> float:
    """Return by how many low-rate frames one recording is later than the common response says.

    Looked for within four frames either way, to an eighth and between.
    """
    di, recording = pair
    cross = np.conj(di * pooled.cross / pooled.auto) * recording
    size = np.abs(cross)
    hz = np.arange(cross.size) * (pooled.rate / SIZE)
    cross *= np.interp(hz, _SEARCH_HZ, (0.0, 1.0, 1.0, 0.0)) / (size + 1e-9 * np.max(size) + 1e-30)
    curve = fft.irfft(cross, _FINER * SIZE)
    near = np.roll(curve, _FINER * _NEAR)[: 2 * _FINER * _NEAR + 1]
    best = int(np.argmax(near))
    return (best + _between(near, best)) / _FINER - _NEAR


def _smooth(power: NDArray[np.float64], bins: int) -> NDArray[np.float64]:
    sums = np.cumsum(np.pad(power, (bins + 1, bins), mode="edge"))
    return (sums[2 * bins + 1 :] - sums[: -2 * bins - 1]) / (2 * bins + 1)


def _direct(
    response: NDArray[np.float64], top: int, rate: float
) -> tuple[int, NDArray[np.float64]]:
    """Return the direct sound around a peak, and the column of it at which the peak lies."""
    before, after, fade = (round(s * rate) for s in (_BEFORE_S, _AFTER_S, _FADE_S))
    weights = np.ones(before + after)
    rise = before // 2
    weights[:rise] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(rise) + 0.5) / rise)
    weights[-fade:] = 0.5 + 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / fade)
    return before, response[(np.arange(-before, after) + top) % SIZE] * weights


def _least_phase(
    spectrum: NDArray[np.complex128], band: NDArray[np.float64], hz: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Return the response that has the measured magnitude and the least delay.

    By the folded cepstrum (Oppenheim and Schafer, *Discrete-Time Signal Processing*; from memory), the
    magnitude held under its band and continued above it by the slope it has there.
    """
    size = np.abs(spectrum)
    log = np.log(size + 1e-9 * np.max(size) + 1e-30) - np.log(np.maximum(band, 0.05))
    low, high = int(np.argmax(hz >= _LOWEST_HZ)), int(np.argmax(hz >= _HIGHEST_HZ))
    whole = np.full(_OVER * _PIECE // 2 + 1, log[low])
    whole[low : high + 1] = log[low : high + 1]
    start = int(high / 2.0**_OCTAVES_FOR_SLOPE)
    octaves = np.log2(np.arange(start, high + 1) / high)
    slope, level = np.polyfit(octaves, log[start : high + 1], 1)
    above = np.log2(np.arange(high + 1, whole.size) / high)
    whole[high + 1 :] = level + np.clip(slope, _STEEPEST, 0.0) * above
    cepstrum = fft.irfft(whole, _OVER * _PIECE)
    cepstrum[1 : _OVER * _PIECE // 2] *= 2.0
    cepstrum[_OVER * _PIECE // 2 + 1 :] = 0.0
    return np.asarray(np.exp(fft.rfft(cepstrum)[: spectrum.size]))


def _search(
    cross: NDArray[np.complex128], hz: NDArray[np.float64], rate: float, *, before: int, top: int
) -> Arrival:
    """Return the strongest likeness of either sign around the peak."""
    size = np.abs(cross)
    band = np.interp(hz, _SEARCH_HZ, (0.0, 1.0, 1.0, 0.0))
    flat = cross / (size + 1e-12 * np.max(size) + 1e-30) * band
    curve = fft.irfft(flat, _FINER * _PIECE) * (_FINER * _PIECE / (2.0 * np.sum(band)))
    start = _FINER * (before - round(_EARLIEST_S * rate))
    near = curve[start : _FINER * (before + round(_LATEST_S * rate)) + 1]
    best = int(np.argmax(np.abs(near)))
    sign = float(np.sign(near[best])) or 1.0
    at = start + best + _between(np.abs(near), best)
    return Arrival(
        at=at / _FINER - before + top,
        sign=sign,
        height=float(abs(near[best])),
        against=float(max(np.max(-sign * near), 0.0)),
    )


def _between(curve: NDArray[np.float64], best: int) -> float:
    """Return by how much the top of a parabola through three values is off its middle one."""
    if not 0 < best < curve.size - 1:
        return 0.0
    left, middle, right = (float(v) for v in curve[best - 1 : best + 2])
    bend = left - 2.0 * middle + right
    return 0.5 * (left - right) / bend if bend < 0.0 else 0.0
