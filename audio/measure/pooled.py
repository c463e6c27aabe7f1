"""All attacks together: the response from the driven DI to the recording.

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

_SEARCH_HZ = (80.0, 200.0, 5000.0, 6500.0)
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
        weight = 1.0 / (smooth(power, bins) + 1e-6 * np.max(power) + 1e-30)
        cross += weight * np.conj(di) * recording * np.exp(turn * frames)
        auto += weight * power
        total += weight * np.abs(recording.astype(np.complex128)) ** 2
    auto += 1e-12 * np.max(auto, initial=1e-30)
    noise = np.maximum(total - np.abs(cross) ** 2 / auto, 0.0) / max(len(pairs), 1)
    return Pooled(cross=cross, auto=auto, noise=noise, rate=rate)


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
    return (best + between(near, best)) / _FINER - _NEAR


def between(curve: NDArray[np.floating], best: int) -> float:
    """Return by how much the top of a parabola through three values is off its middle one."""
    if not 0 < best < curve.size - 1:
        return 0.0
    left, middle, right = (float(v) for v in curve[best - 1 : best + 2])
    bend = left - 2.0 * middle + right
    return 0.5 * (left - right) / bend if bend < 0.0 else 0.0


def smooth(power: NDArray[np.float64], bins: int) -> NDArray[np.float64]:
    """Return the mean of each bin and `bins` on either side of it."""
    sums = np.cumsum(np.pad(power, (bins + 1, bins), mode="edge"))
    return (sums[2 * bins + 1 :] - sums[: -2 * bins - 1]) / (2 * bins + 1)
