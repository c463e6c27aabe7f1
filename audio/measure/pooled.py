"""How late each attack comes against all of them together, at the low rate.

Cross-spectrum over auto-spectrum, summed over attacks that are each whitened first, so that the notes fill
each other's gaps (Bendat and Piersol, *Random Data*, on frequency response functions; from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.fades import faded_ends
from audio.measure.whitened import RAMP_S, RING_S, Geometry

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Pair = tuple[NDArray[np.complex64], NDArray[np.complex64]]
    """Spectra of a cut stretch: DI, recording."""

_SMOOTH_HZ = 100.0
SIZE = 2048
"""Of the transform of a cut stretch, low-rate frames: none is longer than 80 ms."""

_SEARCH_HZ = (80.0, 200.0, 5000.0, 6500.0)
_FINER = 8
_NEAR = 4


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
    ring, ramp = round(RING_S * shape.low_rate), round(RAMP_S * shape.low_rate)
    fade = faded_ends(frames + ring, ramp).astype(np.float32)
    heard = fft.irfft(recording, shape.size)[column : column + fade.size]
    played = fft.irfft(di, shape.size)[:frames]
    return fft.rfft(played, SIZE), fft.rfft(heard * fade[: heard.size], SIZE)


class Terms:
    """What each cut stretch adds to the response of all.

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
        tops = np.max(power, axis=1, keepdims=True)
        weight = 1.0 / (mean_around(power, rate=rate) + 1e-6 * tops + 1e-30)
        self._recording = recording
        self._cross = weight * np.conj(self._di) * recording
        self._auto = weight * power

    def own_lateness(self, late: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return by how many low-rate frames each recording is later than the common response says.

        (pairs,) · looked for within `_NEAR` frames either way · `late` is what is known of it, (pairs,),
        when the response is pooled.
        """
        bins = np.arange(SIZE // 2 + 1)
        turn = np.exp(2j * np.pi / SIZE * late[:, None] * bins)
        auto = np.sum(self._auto, axis=0)
        response = np.sum(self._cross * turn, axis=0) / (auto + 1e-12 * np.max(auto, initial=1e-30))
        hz = bins * (self._rate / SIZE)
        used = hz < _SEARCH_HZ[-1]
        cross = (np.conj(self._di * response) * self._recording)[:, used]
        size = np.abs(cross)
        cross *= np.interp(hz[used], _SEARCH_HZ, (0.0, 1.0, 1.0, 0.0))
        cross /= size + 1e-9 * np.max(size, axis=1, keepdims=True) + 1e-30
        lags = np.arange(-_NEAR * _FINER, _NEAR * _FINER + 1) / _FINER
        near = (cross @ np.exp(2j * np.pi / SIZE * np.outer(np.flatnonzero(used), lags))).real
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


def mean_around(power: NDArray[np.floating], *, rate: float) -> NDArray[np.float64]:
    """Return the mean of each bin and those up to `_SMOOTH_HZ` on either side of it, over the last axis.

    `rate` is that of the sound, frames a second, whose (…, bins) spectra these are.
    """
    bins = max(1, round(_SMOOTH_HZ * 2 * (power.shape[-1] - 1) / rate))
    ends = [(0, 0)] * (power.ndim - 1) + [(bins + 1, bins)]
    sums = np.cumsum(np.pad(power.astype(np.float64), ends, mode="edge"), axis=-1)
    return np.asarray((sums[..., 2 * bins + 1 :] - sums[..., : -2 * bins - 1]) / (2 * bins + 1))
