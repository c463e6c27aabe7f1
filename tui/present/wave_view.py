"""Which stretch of a file a view shows: zoomed by halves and doubles, aligned so that nothing shimmers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

CLOSEST = 1 / 8
"""Frames of a column at the closest look: single samples, eight columns apart."""


@dataclass(frozen=True, slots=True)
class Look:
    """Which stretch of a file stands in the columns.

    The left edge is a whole number of columns from the file's first frame: at one scale the same frames
    always share a column, wherever the view is scrolled to, so that nothing shimmers.
    """

    frames: int
    """Of the file, 1 or more."""
    width: int
    """Columns, 1 or more."""
    scale: float
    """Frames of a column: a power of two, or a whole number where the whole file is shown."""
    column: int = 0
    """Columns of this scale left of the view."""

    @property
    def first(self) -> float:
        """The frame at the left edge; a fraction where a frame has several columns."""
        return self.column * self.scale

    @property
    def end(self) -> int:
        """The frame after the last one in view."""
        return min(self.frames, math.ceil((self.column + self.width) * self.scale))

    @property
    def filled(self) -> int:
        """Columns that have a frame; those behind them lie after the file's end."""
        return min(math.ceil(self.frames / self.scale) - self.column, self.width)

    @property
    def middle(self) -> int:
        """The frame in the middle column, the file's last one where that lies beyond."""
        return self.frame_at(self.width // 2)

    @property
    def is_whole(self) -> bool:
        """Whether the whole file is in view."""
        return self.scale >= whole(self.frames, self.width).scale

    def frame_at(self, x: int) -> int:
        """Return the frame in a column of the view, the file's first or last where it has none."""
        return min(max(int((self.column + x) * self.scale), 0), self.frames - 1)

    def place(self, frame: int) -> int | None:
        """Return the column of a frame, None where it is not in view."""
        x = self.steps_to(frame)
        return x if 0 <= x < self.width else None

    def steps_to(self, frame: int) -> int:
        """Return how many columns right of the left edge a frame stands; negative left of it."""
        return math.floor(frame / self.scale) - self.column

    def single(self) -> range:
        """Return the columns in which a frame begins, where a frame has several; else none."""
        if self.scale >= 1:
            return range(0)
        every = round(1 / self.scale)
        return range(-self.column % every, min(self.steps_to(self.frames), self.width), every)

    def zoomed(self, steps: int, *, keep: int) -> Look:
        """Return the view so many times closer, or wider where negative.

        Parameters
        ----------
        steps
            Each halves the scale or doubles it, between `CLOSEST` and the whole file.
        keep
            The frame that stays in its column, as far as the file's ends let it.

        Returns
        -------
        Look
            At another scale, or the same where it is the last one.
        """
        look = self
        for _ in range(abs(steps)):
            look = look._at_scale(look._next(closer=steps > 0), keep)
        return look

    def scrolled(self, halves: int) -> Look:
        """Return the view so many halves of its width further on, or back where negative."""
        return self.at_column(self.column + halves * max(self.width // 2, 1))

    def around(self, frame: int) -> Look:
        """Return the view with a frame in its middle, as far as the file's ends let it."""
        return self.at_column(math.floor(frame / self.scale) - self.width // 2)

    def resized(self, width: int) -> Look:
        """Return the view on so many columns: the whole stays whole, any other keeps its middle."""
        widest = whole(self.frames, width)
        if self.is_whole or self.scale >= widest.scale:
            return widest
        return replace(self, width=width).around(self.middle)

    def at_column(self, column: int) -> Look:
        """Return the view so many columns from the file's first frame, as far as its ends let it."""
        last = max(math.ceil(self.frames / self.scale) - self.width, 0)
        return replace(self, column=min(max(column, 0), last))

    def _next(self, *, closer: bool) -> float:
        share, power = math.frexp(self.scale)
        if not closer:
            return math.ldexp(1.0, power)
        return max(CLOSEST, math.ldexp(1.0, power - (2 if share == 0.5 else 1)))

    def _at_scale(self, scale: float, keep: int) -> Look:
        widest = whole(self.frames, self.width)
        if scale >= widest.scale:
            return widest
        column = math.floor(keep / scale) - self.steps_to(keep)
        return replace(self, scale=scale).at_column(column)


def whole(frames: int, width: int) -> Look:
    """Return the view of a whole file: its frames over the columns, rounded up to what a scale can be."""
    if frames >= width:
        return Look(frames, width, float(-(-frames // width)))
    share, power = math.frexp(frames / width)
    return Look(frames, width, max(CLOSEST, math.ldexp(1.0, power - (share == 0.5))))
