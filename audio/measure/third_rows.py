"""Power in third-octave bands along a sound: a row each half second, seen through windows of a second.

Each band is seen in parts, too: where in it a sound's power lies decides what a steep filter makes of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.spectrum import even
from audio.measure.thirds import NOMINAL_HZ, edges_hz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PARTS = 6
"""Of a band: eighteenths of an octave, two bins of the lowest one."""


def bands_at(rate: int) -> tuple[float, ...]:
    """Return the names of the bands that end under half the rate."""
    return tuple(hz for hz in NOMINAL_HZ if edges_hz(hz)[1] <= rate / 2.0)


class RunningThirds:
    """Mean square in each part of each band, row by row, of a signal that is fed in pieces of any size.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._rate, self._hop = rate, rate // 2
        self._held = np.zeros(0, dtype=np.float32)
        self._rows: list[Floats] = []

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound."""
        self._held = np.concatenate((self._held, piece.astype(np.float32, copy=False)))
        at = 0
        while at + self._rate <= self._held.size:
            self._rows.append(parts_of(self._held[at : at + self._rate], rate=self._rate))
            at += self._hop
        self._held = self._held[at:].copy()

    def rows(self) -> Floats:
        """Return the mean square in each part, (rows, bands, `PARTS`); row k begins k half seconds in."""
        return np.array(self._rows).reshape(len(self._rows), len(bands_at(self._rate)), PARTS)


def parts_of(stretch: NDArray[np.floating], *, rate: int) -> Floats:
    """Return the mean square of a (frames,) stretch in each part of each band, (bands, `PARTS`).

    It is seen through one window as long as itself; the middle counts most.
    """
    view = _view(stretch.size, rate)
    spectrum = fft.rfft(stretch.astype(np.float32, copy=False) * view.window)
    power = spectrum.real**2 + spectrum.imag**2
    below = np.concatenate((np.zeros(1), np.cumsum(power, dtype=np.float64)))
    at_edges = below[view.whole] + view.part * power[view.whole]
    return np.asarray(view.scale * np.diff(at_edges)).reshape(-1, PARTS)


@dataclass(frozen=True)
class _View:
    """How stretches of one length are looked at."""

    window: NDArray[np.float32]
    scale: float
    """What makes mean squares of the power in bins."""
    whole: NDArray[np.int64]
    """(parts + 1,) · bins that lie below each edge as a whole."""
    part: Floats
    """And how much of the next one does."""


@lru_cache(maxsize=8)
def _view(frames: int, rate: int) -> _View:
    window = even(frames)
    # Bin k is rate/frames hertz wide around its middle: its power ends half a bin above.
    edges = edges_of_parts(bands_at(rate)) * (frames / rate) + 0.5
    whole = edges.astype(np.int64)
    return _View(
        window=window.astype(np.float32),
        scale=2.0 / (frames * float(np.dot(window, window))),
        whole=whole,
        part=edges - whole,
    )


def edges_of_parts(bands: tuple[float, ...]) -> Floats:
    """Return where the parts of neighbouring bands begin, and where the last one ends, (parts + 1,)."""
    first, _ = edges_hz(bands[0])
    return np.asarray(first * 10.0 ** (np.arange(PARTS * len(bands) + 1) / (10.0 * PARTS)))


def middles_of_parts(bands: tuple[float, ...]) -> Floats:
    """Return the middle of each part of neighbouring bands, (bands, `PARTS`), Hz."""
    edges = edges_of_parts(bands)
    return np.sqrt(edges[:-1] * edges[1:]).reshape(-1, PARTS)
