"""What two signals have in common, frequency by frequency, added up while they come in.

Welch's method (Welch 1967, from memory): Hann windows of a third of a second, half overlapping.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

if TYPE_CHECKING:
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
    """Adds up what two signals have in common; pieces of any size give the same result.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._size = _SIZE * 2 ** max(0, round(np.log2(rate / 48_000)))
        self._hz = fft.rfftfreq(self._size, 1.0 / rate)
        self._window = np.hanning(self._size)
        self._rest = np.zeros((2, 0))
        self._loudest = 0.0
        bins = self._hz.size
        self._cross = np.zeros(bins, dtype=complex)
        self._powers, self._noise = np.zeros((2, bins)), np.zeros(bins)
        self._loud = self._quiet = 0

    def feed(self, first: NDArray[np.floating], second: NDArray[np.floating]) -> None:
        """Take the next stretch of both, (frames,) each."""
        both = np.concatenate((self._rest, np.stack((first, second))), axis=1)
        at, hop = 0, self._size // 2
        while at + self._size <= both.shape[1]:
            self._add(both[:, at : at + self._size])
            at += hop
        self._rest = both[:, at:].copy()

    def shared(self) -> Shared | None:
        """Return what there was in common; None where the first was silent."""
        if not self._loud:
            return None
        return Shared(
            cross=np.asarray(self._cross / self._loud),
            first=self._powers[0] / self._loud,
            second=self._powers[1] / self._loud,
            noise=self._noise / max(self._quiet, 1),
            hz=self._hz,
            size=self._size,
        )

    def _add(self, both: Floats) -> None:
        power = float(both[0] @ both[0])
        self._loudest = max(self._loudest, power)
        quiet = power <= _QUIET * self._loudest
        if not quiet and power < _LOUD * self._loudest:
            return
        first, second = fft.rfft(both * self._window, axis=1)
        if quiet:
            self._noise += np.abs(second) ** 2
            self._quiet += 1
        else:
            self._cross += second * np.conj(first)
            self._powers += np.abs((first, second)) ** 2
            self._loud += 1
