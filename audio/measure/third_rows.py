"""Power in third-octave bands along a sound: a row each half second, seen through windows of a second."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.spectrum import even
from audio.measure.thirds import NOMINAL_HZ, edges_hz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def bands_at(rate: int) -> tuple[float, ...]:
    """Return the names of the bands that end under half the rate."""
    return tuple(hz for hz in NOMINAL_HZ if edges_hz(hz)[1] <= rate / 2.0)


class RunningThirds:
    """Mean square in each band, row by row, of a signal that is fed in pieces of any size.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._size, self._hop = rate, rate // 2
        window = even(rate)
        self._window = window.astype(np.float32)
        self._scale = 2.0 / (rate * float(np.dot(window, window)))
        # Bin k is one hertz wide around k: its power ends at k + ½.
        edges = np.array([edges_hz(hz) for hz in bands_at(rate)]).T + 0.5
        self._whole = edges.astype(np.int64)
        self._part = edges - self._whole
        self._held = np.zeros(0, dtype=np.float32)
        self._rows: list[Floats] = []

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound."""
        self._held = np.concatenate((self._held, piece.astype(np.float32, copy=False)))
        at = 0
        while at + self._size <= self._held.size:
            self._rows.append(self._seen(self._held[at : at + self._size]))
            at += self._hop
        self._held = self._held[at:].copy()

    def rows(self) -> Floats:
        """Return the mean square in each band, (rows, bands); row k begins k half seconds in."""
        return np.array(self._rows).reshape(len(self._rows), self._whole.shape[1])

    def _seen(self, row: NDArray[np.float32]) -> Floats:
        spectrum = fft.rfft(row * self._window)
        power = spectrum.real**2 + spectrum.imag**2
        below = np.concatenate((np.zeros(1), np.cumsum(power, dtype=np.float64)))
        at_edges = below[self._whole] + self._part * power[self._whole]
        return np.asarray(self._scale * (at_edges[1] - at_edges[0]))
