"""Stretches of DI and recording around one attack, compared with all frequencies counting alike.

The cross-spectrum is divided by its magnitude (the phase transform: Knapp and Carter 1976, *The generalized
correlation method for estimation of time delay*), so that neither the pitch of a note nor the colour of an
amp outweighs the rest: what is left is time. Stretches are kept at a low rate, as a loudspeaker gives
nothing over 6 kHz, by leaving out the upper bins of their spectrum.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.fades import faded_ends

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BEFORE_S, _AFTER_S = 0.010, 0.055
"""A stretch of the DI around the beginning of an attack."""
RING_S = 0.012
"""The recording of it rings on for so long."""
RAMP_S = 0.006
"""How long either fades at its ends."""
_LOWEST_HZ, _LOW_EDGE_HZ = 80.0, 140.0
_HIGH_EDGE_HZ, _HIGHEST_HZ = 5000.0, 6500.0
_LEAST_RATE = 14_000.0


@dataclass(frozen=True, kw_only=True)
class Geometry:
    """How long stretches are, in frames of the files and at the low rate."""

    rate: int
    step: int
    """Frames of the files to one of the low rate."""
    size: int
    """Of the transform, low rate."""
    before: int
    """Frames of a stretch of the DI before its attack, files' rate."""
    stretch: int
    """Frames of a stretch of the DI, files' rate."""
    reach: int
    """How far the recording is searched either way, frames of the low rate."""
    long: int
    """Frames of a stretch of the recording, files' rate: begins `reach` before the DI's."""
    ramp: NDArray[np.float32]
    """Fade of a stretch of the DI."""
    band: NDArray[np.float32]
    """(size // 2 + 1,) · weight of each bin, 0 to 1."""
    hz: NDArray[np.float64]

    @property
    def low_rate(self) -> float:
        """Frames a second of the low rate."""
        return self.rate / self.step


@lru_cache(maxsize=8)
def geometry(*, rate: int, reach_s: float) -> Geometry:
    """Return the lengths for a rate (frames a second) and a search of `reach_s` either way."""
    step = max(1, int(rate / _LEAST_RATE))
    before = round(_BEFORE_S * rate)
    stretch = before + round(_AFTER_S * rate)
    reach = round(reach_s * rate / step)
    long = stretch + 2 * reach * step + round(RING_S * rate)
    size = fft.next_fast_len(-(-long // step) + 1, real=True)
    size += size % 2
    hz = np.arange(size // 2 + 1) * (rate / step / size)
    return Geometry(
        rate=rate,
        step=step,
        size=size,
        before=before,
        stretch=stretch,
        reach=reach,
        long=long,
        ramp=faded_ends(stretch, round(RAMP_S * rate)).astype(np.float32),
        band=_band(hz),
        hz=hz,
    )


def lowered(piece: NDArray[np.floating], shape: Geometry) -> NDArray[np.complex64]:
    """Return the spectrum of a piece of at most `size` · `step` frames, up to half the low rate."""
    spectrum = fft.rfft(piece.astype(np.float32, copy=False), shape.size * shape.step)
    return np.asarray(spectrum[: shape.hz.size], dtype=np.complex64)


def likeness(
    di: NDArray[np.complex64], recording: NDArray[np.complex64], shape: Geometry
) -> NDArray[np.float32]:
    """Return the phase-transform correlation of two spectra, circular, at the low rate.

    Parameters
    ----------
    di
        (size // 2 + 1,) · its spectrum.
    recording
        (size // 2 + 1,) · likewise.
    shape
        Their lengths.

    Returns
    -------
    NDArray[np.float32]
        (size,) · 1.0 where the recording is the DI, nothing but later, by that many frames.
    """
    cross = np.conj(di) * recording
    magnitude = np.abs(cross)
    cross *= shape.band / (magnitude + np.float32(1e-6) * np.max(magnitude) + np.float32(1e-30))
    curve = fft.irfft(cross, shape.size)
    return np.asarray(curve * np.float32(shape.size / (2.0 * np.sum(shape.band))), np.float32)


def _band(hz: NDArray[np.float64]) -> NDArray[np.float32]:
    up = np.clip((hz - _LOWEST_HZ) / (_LOW_EDGE_HZ - _LOWEST_HZ), 0.0, 1.0)
    down = np.clip((_HIGHEST_HZ - hz) / (_HIGHEST_HZ - _HIGH_EDGE_HZ), 0.0, 1.0)
    return np.asarray(np.sin(0.5 * np.pi * up) ** 2 * np.sin(0.5 * np.pi * down) ** 2, np.float32)
