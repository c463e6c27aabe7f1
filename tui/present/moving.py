"""A line of progress that moves, on standard error, where a terminal can show one."""

from __future__ import annotations

import os
import sys

from tui.present.terminal import clean, is_terminal, put, width

_CLEAR = "\r\x1b[K"


class MovingLine:
    """One line that is written over again and again, until it is taken away."""

    def __init__(self) -> None:
        self._there = False

    @staticmethod
    def columns() -> int:
        """Return how long it may be; 0 where nothing can move."""
        moves = is_terminal(sys.stderr) and os.environ.get("TERM", "") not in ("", "dumb")
        return width(sys.stderr) - 1 if moves else 0

    def show(self, text: str) -> None:
        """Write it over what it was; nothing happens where nothing can move."""
        columns = self.columns()
        if columns:
            put(sys.stderr, f"{_CLEAR}{clean(text)[:columns]}")
            self._there = True

    def end(self) -> None:
        """Take it away."""
        if self._there:
            put(sys.stderr, _CLEAR)
            self._there = False
