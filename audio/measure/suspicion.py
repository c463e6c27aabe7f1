"""Has the copy moved? The evidence for each other place, added up block by block.

Page's cumulative sums (Page 1954, Continuous inspection schemes, from memory): the logarithm of how much
better another place explains the recording than the known one is added up and never falls under 0. Where it
last was 0, the recording moved; how high it is tells how sure that is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SURE = 35.0
"""Evidence, natural logarithm, that counts. Five minutes hold some 20 million blocks and places: noise
alone passes it once in 10**7 passes, which leaves room for noise that is not as even as assumed."""

LEAD = 8.0
"""Evidence by which the place must lead all others: they then hold for less than one in a thousand."""

_CONFIRMED = 3
"""Blocks that are waited for once something is sure. In the block in which a frame was lost, and where
nothing came in its place, a wrong shift may explain more than the right one, which shows in the next."""

_TOLD = 4.0
"""Places of the change that are less likely by more than this belong to the last 2 %."""


@dataclass(frozen=True)
class Moved:
    """The recording lies elsewhere."""

    by: int
    """Frames later."""
    since: int
    """Number of the last block at which nothing spoke for it."""


class Suspicion:
    """Evidence for each place, and for none at all.

    Parameters
    ----------
    furthest
        Largest shift, frames, either way.
    """

    def __init__(self, furthest: int) -> None:
        self._furthest = furthest
        self.clear(0)

    def clear(self, number: int) -> None:
        """Forget all evidence at a block's number: there it lies where it is known to."""
        self._moved = np.zeros(2 * self._furthest + 1)
        self._since = np.full(self._moved.size, number, dtype=np.int64)
        self._gone = 0.0
        self.gone_since = number
        self._sure_for = 0

    @property
    def aroused(self) -> bool:
        """Whether something may have happened: what is learned now may be wrong."""
        return self._gone > 0.3 * SURE or float(np.max(self._moved)) > 0.3 * SURE

    def add(self, left: Floats, *, here: float, none: float, scale: float, number: int) -> None:
        """Take the evidence of a block.

        Parameters
        ----------
        left
            (2 · furthest + 1,) power that each shift leaves unexplained, from the earliest on.
        here
            Power that the known place leaves unexplained.
        none
            Power of the block itself.
        scale
            Power of a sample that would be left by the truth.
        number
            Of the block.
        """
        self._moved += (min(here, none) - left) / (2.0 * scale)
        nothing = self._moved <= 0.0
        self._moved[nothing] = 0.0
        self._since[nothing] = number
        self._gone += (here - none) / (2.0 * scale)
        if self._gone <= 0.0:
            self._gone, self.gone_since = 0.0, number
        if self._gone > SURE or float(np.max(self._moved)) > SURE:
            self._sure_for += 1

    def moved(self, *, last: bool = False) -> Moved | None:
        """Return where the recording went; without a clear lead only if this is the `last` chance."""
        at = int(np.argmax(self._moved))
        height = float(self._moved[at])
        if height < SURE or (self._sure_for < _CONFIRMED and not last):
            return None
        others = max(
            float(np.max(self._moved[:at], initial=0.0)),
            float(np.max(self._moved[at + 1 :], initial=0.0)),
        )
        if height - others < LEAD and not last:
            return None
        return Moved(by=at - self._furthest, since=int(self._since[at]))

    def gone(self) -> bool:
        """Return whether the copy ended, and is at no other place either."""
        sure = self._gone > SURE and self._sure_for >= _CONFIRMED
        return sure and float(np.max(self._moved)) < 0.7 * self._gone


def place(before: Floats, after: Floats, *, by: int) -> tuple[int, int]:
    """Find where in a stretch of a recording it moved.

    Parameters
    ----------
    before
        (frames,) evidence, natural logarithm, that a frame is a copy at the old place, over none.
    after
        (frames,) the same at the new place.
    by
        Frames later; where there are more than 0, so many frames belong to neither.

    Returns
    -------
    tuple of int
        First and last frame at which it may have moved, 0 to frames.
    """
    gap = min(max(by, 0), before.size)
    early = np.concatenate(([0.0], np.cumsum(before)))
    late = np.concatenate((np.cumsum(after[::-1])[::-1], [0.0]))
    total = early[: early.size - gap] + late[gap:]
    likely = np.flatnonzero(total >= np.max(total) - _TOLD)
    return int(likely[0]), int(likely[-1])
