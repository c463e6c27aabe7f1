"""Blocks in which something went wrong for a moment: which, and when enough has come to look at them."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.spliced import Stretch, stretches

if TYPE_CHECKING:
    from collections.abc import Callable

    from audio.measure.cable import Grid
    from audio.measure.looked import Looked, Pair

_PARTS = 32
"""Parts of a block, 5 ms each: a splice may concern a few frames only."""

_HOT = 3.0
"""Power over the noise's that a part leaves unexplained from which on its block is looked at: noise alone
leaves 1.6 once in 10**5, a path that was just found more until it is better known. It costs a look."""

_FEWEST_AROUND, _MOST_BEFORE, _MOST_BEHIND = 2, 3, 2
"""Blocks that tell the path."""

_WAITS = 3
"""Blocks behind the last hot one before it is looked at: the next belongs to it, two tell the path."""

_COUNTED = 8
"""Blocks, 1.4 s, in which frames are counted: what lies elsewhere for longer was found before."""

_SPARED = 12
"""Blocks that can be gone over again besides those of a stretch: they tell the path."""

_MOST_LOOKS = 100
"""A recording that is disturbed more often is told so often enough; keeps time and memory bounded."""


class Watch:
    """Which blocks were as they should be, and which are still to be looked at.

    Parameters
    ----------
    pair
        What was played and recorded.
    grid
        Lengths of the rate.
    rate
        Frames a second.
    kept
        Blocks that can be gone over again.
    """

    def __init__(self, pair: Pair, grid: Grid, *, rate: int, kept: int) -> None:
        self._pair, self._grid, self._rate, self._kept = pair, grid, rate, kept
        self._good: deque[int] = deque(maxlen=kept)
        self._hot: list[int] = []
        self._latest, self._told = -1, -1
        self._looks = 0

    def see(self, looked: Looked, number: int, *, evident: bool) -> None:
        """Take what the block of a number says, and whether it says anything of the copy."""
        if number <= self._latest:
            return
        self._latest = number
        left = (looked.heard - looked.expected).reshape(_PARTS, -1)
        most = float(np.max(np.sum(left**2, axis=1))) / (left.shape[1] * self._grid.counted)
        if most > _HOT:
            self._add(number)
        elif evident:
            self._good.append(number)

    def _add(self, number: int) -> None:
        if number > self._told and self._looks < _MOST_LOOKS:
            self._hot.append(number)
        if self._hot and number - self._hot[0] > self._kept - _SPARED:
            self._hot.clear()

    def found_again(self, number: int) -> None:
        """Take note that nothing was recognised from the last hot block up to one's number, exclusive."""
        for missed in range(self._latest + 1, number):
            self._add(missed)
        self._latest = max(self._latest, number - 1)

    def start_over(self, number: int) -> None:
        """Forget the blocks before one's number: that the copy moved explains them."""
        self._good.clear()
        self._hot.clear()
        self._latest = number - 1
        self._told = max(self._told, number - 1)

    def look(
        self, number: int, *, delay: float, gain: float, start: Callable[[int], int], last: bool
    ) -> list[Stretch]:
        """Return what was wrong, once the block of a number was gone over; often nothing is due.

        Parameters
        ----------
        number
            Of the latest block.
        delay
            Frames, as known.
        gain
            Of the copy.
        start
            Where the block of a number begins.
        last
            Whether nothing more will come.

        Returns
        -------
        list of Stretch
            In order.
        """
        if not self._hot or not (last or number >= self._hot[-1] + _WAITS):
            return []
        first = max(self._hot[0] - 1, self._told + 1)
        behind = min(self._hot[-1] + 2, number + 1)
        is_short = self._hot[-1] - self._hot[0] < _COUNTED
        self._hot.clear()
        self._told = behind - 1
        before = [n for n in self._good if number - self._kept < n < first][-_MOST_BEFORE:]
        after = [n for n in self._good if n >= behind][:_MOST_BEHIND]
        if len(before) + len(after) < _FEWEST_AROUND:
            return []
        self._looks += 1
        return stretches(
            self._pair,
            self._grid,
            rate=self._rate,
            first=start(first),
            last=start(behind),
            delay=round(delay),
            reach=self._grid.furthest if is_short else 0,
            gain=gain,
            sides=([start(n) for n in before], [start(n) for n in after]),
        )
