"""What two signals have in common, frequency by frequency, added up while they come in.

Welch's method (Welch 1967, from memory): Hann windows of a third of a second, one behind the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Spectrum = NDArray[np.complex128]

_SIZE = 16_384
_LOUD = 1e-2
"""Power over the loudest stretch's from which on a stretch counts: −20 dB."""
_QUIET = 1e-4
"""Power under which the other signal is taken for noise alone: −40 dB (common practice, no source)."""


@dataclass(frozen=True)
class Shared:
    """Mean spectra over the stretches in which the first signal is loud."""

    cross: Spectrum
    """(bins,) of the second over the first: its phase is what the second is later by."""
    first: Floats
    """(bins,) power of the first."""
    second: Floats
    noise: Floats
    """(bins,) power of the second where the first is quiet; zeros where it never is."""
    hz: Floats
    """(bins,)"""
    size: int
    """Frames of the transform."""


class RunningShared:
    """Adds up what one signal and others have in common; pieces of any size give the same result.

    Parameters
    ----------
    others
        How many others there are.
    rate
        Frames a second.
    """

    def __init__(self, *, others: int, rate: int) -> None:
        self._size = _SIZE * 2 ** max(0, round(np.log2(rate / 48_000)))
        self._hz = fft.rfftfreq(self._size, 1.0 / rate)
        self._window = np.hanning(self._size).astype(np.float32)
        self._rest = np.zeros((1 + others, 0), dtype=np.float32)
        self._loudest = 0.0
        self._cross = np.zeros((others, self._hz.size), dtype=complex)
        self._powers = np.zeros((1 + others, self._hz.size))
        self._noise = np.zeros((others, self._hz.size))
        self._loud = self._quiet = 0

    def feed(self, first: Floats, others: Sequence[Floats]) -> None:
        """Take the next stretch of all, (frames,) each."""
        came = np.stack((first, *others)).astype(np.float32)
        joined = np.concatenate((self._rest, came), axis=1)
        whole = joined.shape[1] // self._size * self._size
        for at in range(0, whole, self._size):
            self._add(joined[:, at : at + self._size])
        self._rest = joined[:, whole:].copy()

    def shared(self, other: int) -> Shared | None:
        """Return what there was in common with one of the others; None where the first was silent."""
        if not self._loud:
            return None
        return Shared(
            cross=np.asarray(self._cross[other] / self._loud),
            first=self._powers[0] / self._loud,
            second=self._powers[1 + other] / self._loud,
            noise=self._noise[other] / max(self._quiet, 1),
            hz=self._hz,
            size=self._size,
        )

    def _add(self, stretch: NDArray[np.float32]) -> None:
        power = float(stretch[0] @ stretch[0])
        self._loudest = max(self._loudest, power)
        quiet = power <= _QUIET * self._loudest
        if not quiet and power < _LOUD * self._loudest:
            return
        # Single precision: its rounding lies 140 dB under each signal, and takes half the time.
        spectra = fft.rfft(stretch * self._window, axis=1)
        powers = spectra.real**2 + spectra.imag**2
        if quiet:
            self._noise += powers[1:]
            self._quiet += 1
        else:
            self._cross += spectra[1:] * np.conj(spectra[0])
            self._powers += powers
            self._loud += 1
