"""Is a return only what was sent, leaking? How much of it one plain copy of the DI explains."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.shared import Shared
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Spectrum = NDArray[np.complex128]

_LOW_HZ, _HIGH_HZ = 80.0, 8000.0
_CORNERS_HZ = (0.0, 300.0, 1000.0, 3000.0, 30_000.0)
"""Of a first-order high-pass: none for a wire, 6 dB an octave all the way for wires side by side."""

_LATEST_S = 0.060
_THIRD = 2.0 ** (1.0 / 6.0)
_HEARD = 2.0
"""Power over the noise's from which on a third of an octave counts."""
_FINER = 4
"""A frame is divided by so much where the copy is looked for."""
_GAIN_AT_HZ = 1000.0


@dataclass(frozen=True)
class Copy:
    """One plain copy: one delay, one gain, at most a first-order high-pass."""

    share: float
    """0 to 1: what it explains of the power that came back, noise taken off, each octave counting alike."""
    gain_db: float
    """Over what was sent, at 1 kHz."""


def plain_copy(shared: Shared | None, *, rate: int) -> Copy | None:
    """Tell how much of a return one plain copy of what was sent explains.

    What was sent is whitened first, so that every octave counts alike: in the low end alone, where a
    guitar has most of its power, a loudspeaker is not far from a wire.

    Parameters
    ----------
    shared
        Of what was sent, first, and the return; None where nothing was sent.
    rate
        Frames a second.

    Returns
    -------
    Copy | None
        None where nothing but noise came back.
    """
    if shared is None:
        return None
    back = np.maximum(shared.second - shared.noise, 0.0)
    weight = _weights(shared, back)
    power = float(weight @ back)
    if power <= 0.0:
        return None
    return max(
        (_best(shared, weight, power, corner, rate) for corner in _CORNERS_HZ),
        key=lambda found: found.share,
    )


def _weights(shared: Shared, back: Floats) -> Floats:
    """Return what each bin counts: 0 outside 80 Hz to 8 kHz and where noise covers the return."""
    edges = np.geomspace(
        _LOW_HZ, _HIGH_HZ, 1 + round(np.log(_HIGH_HZ / _LOW_HZ) / np.log(_THIRD**2))
    )
    weight = np.zeros(shared.hz.size)
    for low, high in pairwise(edges):
        band = (shared.hz >= low) & (shared.hz < high)
        sent = float(np.sum(shared.first[band]))
        if sent > 0.0 and np.sum(back[band]) > _HEARD * np.sum(shared.noise[band]):
            weight[band] = 1.0 / sent
    return weight


def _best(shared: Shared, weight: Floats, power: float, corner: float, rate: int) -> Copy:
    shape = _shape(shared.hz, corner)
    size = _FINER * shared.size
    spectrum = np.zeros(size // 2 + 1, dtype=complex)
    spectrum[: shared.hz.size] = weight * shared.cross * np.conj(shape)
    # A sum over the bins on one side: twice the inverse transform's, which halves by its length.
    curve = np.abs(fft.irfft(spectrum, size)) * (size / 2.0)
    reach = _FINER * round(_LATEST_S * rate)
    height = float(max(np.max(curve[: reach + 1]), np.max(curve[-reach:])))
    energy = float(weight @ (np.abs(shape) ** 2 * shared.first))
    gain = height / energy * abs(_shape(np.asarray([_GAIN_AT_HZ]), corner)[0])
    return Copy(share=min(height**2 / (energy * power), 1.0), gain_db=db_from_ratio(float(gain)))


def _shape(hz: Floats, corner: float) -> Spectrum:
    if not corner:
        return np.ones(hz.size, dtype=complex)
    return np.asarray(1j * hz / (1j * hz + corner))
