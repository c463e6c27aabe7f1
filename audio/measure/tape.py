"""Two signals side by side as they come in, and what has lately come of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


class Tape:
    """The last stretch of a signal, addressed by frame; zeros before and behind it.

    What is forgotten is let go in large pieces, so that memory is moved seldom.

    Parameters
    ----------
    kept
        Frames that can be had again at least.
    """

    def __init__(self, kept: int) -> None:
        self._kept = kept
        self._store = np.zeros(2 * kept, dtype=np.float32)
        self._first = 0
        self._filled = 0

    @property
    def end(self) -> int:
        """Frames that came in."""
        return self._first + self._filled

    @property
    def first(self) -> int:
        """The earliest frame that is still there."""
        return self._first

    def add(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,), any number of them."""
        for at in range(0, piece.size, self._kept):
            part = piece[at : at + self._kept]
            if self._filled + part.size > self._store.size:
                self._forget(self._filled - self._kept)
            self._store[self._filled : self._filled + part.size] = part
            self._filled += part.size

    def take(self, start: int, frames: int) -> Floats:
        """Return (frames,) from any frame on."""
        out = np.zeros(frames)
        at, last = max(start, self._first), min(start + frames, self.end)
        if at < last:
            out[at - start : last - start] = self._store[at - self._first : last - self._first]
        return out

    def _forget(self, frames: int) -> None:
        self._store[: self._filled - frames] = self._store[frames : self._filled].copy()
        self._first += frames
        self._filled -= frames


def piece_of(sound: NDArray[np.floating], begin: int, frames: int) -> NDArray[np.floating]:
    """Return (frames,) of a (sound,) from any frame on, silence beyond its ends."""
    inside = sound[max(begin, 0) : max(begin + frames, 0)]
    before = min(max(-begin, 0), frames)
    return np.pad(inside, (before, frames - before - inside.size))
