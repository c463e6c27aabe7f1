"""A grid of bars in floating point: fast for thousands of hits, exact to far below a frame.

Each beat's frame is computed exactly once and then rounded once; between two beats frames run evenly, but
where the tempo changes inside a beat, and there the exact grid is asked.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audio.grid.bars import BarGrid

_EVEN = 1e-8
"""Lengths that differ by less, in proportion, are the same but for rounding."""


class Ruler:
    """The beats of a grid from two before the first of some frames to three behind the last."""

    def __init__(self, bars: BarGrid, frames: Sequence[float]) -> None:
        self.bars = bars
        self._from = math.floor(bars.position(min(frames, default=0.0))) - 2
        to = math.floor(bars.position(max(frames, default=0.0))) + 4
        self._frames = [float(bars.exact(beat)) for beat in range(self._from, to + 1)]
        self._lengths = [ends - begins for begins, ends in pairwise(self._frames)]
        self._bent = {at for at in self._unlike() if self._off_middle(at)}

    def position(self, frame: float) -> float:
        """Return where a frame lies, in beats counted through from bar 1."""
        at = bisect_right(self._frames, frame) - 1
        if at in self._bent:
            return float(self.bars.position(frame))
        return self._from + at + (frame - self._frames[at]) / self._lengths[at]

    def frame(self, beat: int, within: float) -> float:
        """Return the frame of a place so far within a beat, 0 ≤ `within` < 1."""
        at = beat - self._from
        if at in self._bent:
            return float(self.bars.exact(beat + Fraction(within)))
        return self._frames[at] + within * self._lengths[at]

    def beat_frames(self, beat: int) -> float:
        """Return a beat's length."""
        return self._lengths[beat - self._from]

    def _unlike(self) -> Iterator[int]:
        """Return the beats unlike a neighbour: one in which the tempo changes is not as long as both."""
        for at, (one, two) in enumerate(pairwise(self._lengths)):
            if abs(two - one) > _EVEN * one:
                yield from (at, at + 1)

    def _off_middle(self, at: int) -> bool:
        middle = float(self.bars.exact(self._from + at + Fraction(1, 2)))
        length = self._lengths[at]
        return abs(middle - self._frames[at] - length / 2) > _EVEN * length
