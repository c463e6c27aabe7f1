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

from audio.measure.fades import rise
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
    up = rise(ramp)
    fade[:ramp], fade[-ramp:] = up, up[::-1]
    heard = fft.irfft(recording, shape.size)[column : column + fade.size]
    played = fft.irfft(di, shape.size)[:frames]
    return fft.rfft(played, SIZE), fft.rfft(heard * fade[: heard.size], SIZE)


class Terms:
    """What each cut stretch adds to the sums, so that any of them can be summed.

    Parameters
    ----------
    pairs
        Spectra of DI and recording.
    rate
        Low rate.
    """

    def __init__(self, pairs: Sequence[Pair], *, rate: float) -> None:
        self._rate = rate
        self._di = np.stack([one for one, _ in pairs])
        recording = np.stack([other for _, other in pairs])
        power = np.square(np.abs(self._di))
        bins = max(1, round(_SMOOTH_HZ * SIZE / rate))
        tops = np.max(power, axis=1, keepdims=True)
        weight = 1.0 / (smooth(power, bins) + 1e-6 * tops + 1e-30)
        self._recording = recording
        self._cross = weight * np.conj(self._di) * recording
        self._auto = weight * power
        self._total = weight * np.square(np.abs(recording))

    def turned(self, late: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return each one's cross-spectrum, (pairs,) low-rate frames of lateness taken out."""
        turn = 2j * np.pi / SIZE * np.arange(SIZE // 2 + 1)
        return np.asarray(self._cross * np.exp(late[:, None] * turn))

    def pooled(self, turned: NDArray[np.complex128], kept: NDArray[np.bool_]) -> Pooled:
        """Return the sums of those that are kept, (pairs,) True."""
        cross = kept @ turned
        auto = kept @ self._auto
        auto = auto + 1e-12 * np.max(auto, initial=1e-30)
        coherent = np.square(np.abs(cross)) / auto
        noise = np.maximum(kept @ self._total - coherent, 0.0) / max(int(np.sum(kept)), 1)
        return Pooled(cross=cross, auto=auto, noise=noise, rate=self._rate)

    def own_lateness(self, pooled: Pooled) -> NDArray[np.float64]:
        """Return by how many low-rate frames each recording is later than the common response says.

        (pairs,) · looked for within `_NEAR` frames either way.
        """
        hz = np.arange(SIZE // 2 + 1) * (pooled.rate / SIZE)
        used = hz < _SEARCH_HZ[-1]
        cross = (np.conj(self._di * (pooled.cross / pooled.auto)) * self._recording)[:, used]
        size = np.abs(cross)
        cross *= np.interp(hz[used], _SEARCH_HZ, (0.0, 1.0, 1.0, 0.0))
        cross /= size + 1e-9 * np.max(size, axis=1, keepdims=True) + 1e-30
        lags = np.arange(-_NEAR * _FINER, _NEAR * _FINER + 1) / _FINER
        turn = np.exp(2j * np.pi / SIZE * np.outer(np.flatnonzero(used), lags))
        near = (cross @ turn).real
        best = np.argmax(near, axis=1)
        between_lags = [between(row, int(column)) for row, column in zip(near, best, strict=True)]
        return np.asarray((best + np.array(between_lags)) / _FINER - _NEAR)


def between(curve: NDArray[np.floating], best: int) -> float:
    """Return by how much the top of a parabola through three values is off its middle one."""
    if not 0 < best < curve.size - 1:
        return 0.0
    left, middle, right = (float(v) for v in curve[best - 1 : best + 2])
    bend = left - 2.0 * middle + right
    return 0.5 * (left - right) / bend if bend < 0.0 else 0.0


def smooth(power: NDArray[np.floating], bins: int) -> NDArray[np.float64]:
    """Return the mean of each bin and `bins` on either side of it, over the last axis."""
    ends = [(0, 0)] * (power.ndim - 1) + [(bins + 1, bins)]
    sums = np.cumsum(np.pad(power.astype(np.float64), ends, mode="edge"), axis=-1)
    return np.asarray((sums[..., 2 * bins + 1 :] - sums[..., : -2 * bins - 1]) / (2 * bins + 1))
