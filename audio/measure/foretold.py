"""What a recording of a copy should be, foretold down to its noise from what was played.

The path is learned by least squares from blocks near by: a fraction of a frame and filters' tops by taps, a
coupling's bottom by low-passes, a drift by taps that change along the way. Signals are compared in cells of
1.3 ms, a straight line taken off each: hum, and what is unknown of the bottom, is no more than that for so
long, and nothing runs over from one cell to the next as it would through a filter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy.signal import lfilter

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from audio.measure.looked import Pair

    Floats = NDArray[np.float64]

CELL_FRAMES = 64
"""Of a cell, at 44.1 and 48 kHz."""
_LINE = 2

TAPS = 64
"""Of the path; a splice before the cable touches half as many frames on either side."""
_CORNERS_HZ = (4.0, 15.0, 60.0)
"""Of the low-passes: between them lies what a coupling of 3 to 30 Hz takes away."""
_DRIFTING = 8
"""Taps in the middle that may change along the way."""
_COLUMNS = TAPS + len(_CORNERS_HZ) + _DRIFTING
_SETTLED = 8192
"""Frames in which low-passes forget where they began."""

_NOT_KNOWN = 1e-5
"""Power over the recording's own to which a path foretells at best: −50 dB."""
_OTHER_PATH = 2.0
"""How much more than each side by itself leaves, one path for both may leave: more, and a level or a filter
changed in between. Some 20 000 values a side scatter by 1 %."""


class Cells:
    """Cells of one length, and the line that is taken off each.

    Parameters
    ----------
    frames
        Of a cell.
    """

    def __init__(self, frames: int) -> None:
        self.frames = frames
        self.lines = np.stack((np.ones(frames), np.linspace(-1.0, 1.0, frames)), axis=1)
        self.lines /= np.sqrt(np.sum(self.lines**2, axis=0))
        """(frames, 2) a constant and a slope, of power 1 each."""
        self.free = frames - _LINE
        """Values of a cell that are left once its line is taken off."""

    def straightened(self, signal: Floats) -> Floats:
        """Return (cells · frames, …) less the line through each cell, as (cells, frames, …)."""
        cut = signal.reshape(-1, self.frames, *signal.shape[1:])
        along = np.einsum("fl,cf...->cl...", self.lines, cut)
        return np.asarray(cut - np.einsum("fl,cl...->cf...", self.lines, along))


class Where(NamedTuple):
    """Where the recording lies."""

    rate: int
    """Frames a second."""
    middle: int
    """Frame of the recording from which a drift is counted."""
    delay: int
    """Whole frames."""


@dataclass(frozen=True)
class Foretold:
    """A part of a recording beside what it should be."""

    heard: Floats
    """(cells, frames) recorded, straightened."""
    expected: Floats
    """(cells · frames + 2 · reach,) what it should be, `reach` more frames on either side."""
    noise: Floats
    """(cells,) power of a frame that is not foretold."""


class Path:
    """A path as the blocks around a place know it.

    Parameters
    ----------
    pair
        What was played and recorded.
    cells
        Their length.
    where
        Where the recording lies.
    block
        Frames of a block.
    gain
        Of the copy, about: no number of the path is expected to be larger.
    """

    def __init__(self, pair: Pair, cells: Cells, where: Where, *, block: int, gain: float) -> None:
        self._pair, self._cells, self._where, self._block = pair, cells, where, block
        self._wide = max(gain**2, 1e-9)
        self._weights = np.zeros(_COLUMNS)
        self._cover = np.zeros((_COLUMNS, _COLUMNS))
        self._noise = 0.0

    def learn(self, sides: Iterable[Sequence[int]]) -> bool:
        """Learn from blocks on either side, as they begin; return whether one path explains both."""
        sums = [self._summed(starts) for starts in sides if starts]
        apart = sum(one.left() for one in sums)
        both = _Sums(*(sum(parts) for parts in zip(*sums, strict=True)))
        self._noise = both.left() / both.free + 1e-16
        inverse = np.linalg.inv(both.matrix + self._noise / self._wide * np.eye(_COLUMNS))
        self._weights = inverse @ both.vector
        self._cover = np.asarray(np.linalg.cholesky(0.5 * (inverse + inverse.T)))
        return both.left() <= _OTHER_PATH * apart

    def left(self, first: int, last: int) -> Floats:
        """Return (cells,) what a part of the recording leaves, over the noise, if the path is sure."""
        heard = self._pair.heard.take(first, last - first)
        off = heard - self._columns(first, last - first) @ self._weights
        power = np.sum(self._cells.straightened(off) ** 2, axis=1)
        known = _NOT_KNOWN * np.sum(self._cells.straightened(heard) ** 2, axis=1)
        return np.asarray(power / (self._noise * self._cells.free + known))

    def foretell(self, first: int, last: int, *, reach: int) -> Foretold:
        """Return a part of the recording, whole cells, beside what it should be."""
        columns = self._columns(first - reach, last - first + 2 * reach)
        heard = self._cells.straightened(self._pair.heard.take(first, last - first))
        unsure = self._cells.straightened(columns[reach : reach + last - first] @ self._cover)
        noise = self._noise * (1.0 + np.sum(unsure**2, axis=(1, 2)) / self._cells.free)
        noise += _NOT_KNOWN * np.sum(heard**2, axis=1) / self._cells.free
        return Foretold(heard=heard, expected=columns @ self._weights, noise=noise)

    def _summed(self, starts: Sequence[int]) -> _Sums:
        matrix, vector, energy = np.zeros((_COLUMNS, _COLUMNS)), np.zeros(_COLUMNS), 0.0
        for start in starts:
            heard = self._cells.straightened(self._pair.heard.take(start, self._block)).ravel()
            columns = self._cells.straightened(self._columns(start, self._block))
            columns = columns.reshape(heard.size, -1)
            matrix += columns.T @ columns
            vector += columns.T @ heard
            energy += float(heard @ heard)
        free = len(starts) * self._block // self._cells.frames * self._cells.free
        return _Sums(matrix, vector, energy, free)

    def _columns(self, start: int, frames: int) -> Floats:
        """Return (frames, `_COLUMNS`): what was played around each frame, and what low-passes leave."""
        half, (rate, middle, delay) = TAPS // 2, self._where
        long = self._pair.played.take(start - delay - _SETTLED, frames + _SETTLED + half)
        near = sliding_window_view(long[_SETTLED - half :], TAPS)[:frames]
        slow = []
        for hz in _CORNERS_HZ:
            keeps = np.exp(-2.0 * np.pi * hz / rate)
            slow.append(lfilter([1.0 - keeps], [1.0, -keeps], long)[_SETTLED:][:frames])
        along = (np.arange(start, start + frames) - middle) / rate
        central = near[:, half - _DRIFTING // 2 : half + _DRIFTING // 2]
        return np.concatenate(
            (near, np.stack(slow, axis=1), along[:, np.newaxis] * central), axis=1
        )


class _Sums(NamedTuple):
    """What least squares need of some blocks."""

    matrix: Floats
    vector: Floats
    energy: float
    free: int
    """Values there were."""

    def left(self) -> float:
        """Return the energy that the best path leaves."""
        small = 1e-9 * float(np.trace(self.matrix)) / _COLUMNS + 1e-30
        weights = np.linalg.solve(self.matrix + small * np.eye(_COLUMNS), self.vector)
        return max(self.energy - float(weights @ self.vector), 1e-9 * self.energy)
