"""One word or time in letters as large as there is room for."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from rich.style import Style

from tui.present.glyphs import cells_of, cut
from tui.present.letters import large
from tui.present.looks import ACCENT, BAD, CARE, FAINT, SHAPES, STRONG, WELL
from tui.widgets.rows import Piece, Rows

Kind = Literal["plain", "faint", "accent", "well", "care", "bad"]

LOOKS: dict[Kind, Style] = {
    "plain": STRONG,
    "faint": FAINT,
    "accent": ACCENT,
    "well": WELL,
    "care": CARE,
    "bad": BAD,
}

MARKS: dict[Kind, str] = {
    "well": SHAPES["set"],
    "care": SHAPES["stale"],
    "bad": SHAPES["wrong"],
}
"""Kinds that judge have a shape in front of the word: colour only repeats it."""

_MARGIN = 1


class Banner(Rows):
    """Letters as large as the widget's width and height allow, plain text where none fit.

    ``text-align`` places them left, centred or right; in height they stand in the middle.
    """

    DEFAULT_CSS = "Banner { width: 1fr; height: 5; }"

    def __init__(self, *, name: str | None = None, id: str | None = None) -> None:  # noqa: A002 - Textual's own name for it
        super().__init__(name=name, id=id)
        self._said = ""
        self._kind: Kind = "plain"
        self._lines: list[str] = []

    def say(self, words: str, kind: Kind = "plain") -> None:
        """Show one line.

        Parameters
        ----------
        words
            Anybody's; what has letters without a drawing is shown as plain text.
        kind
            How it looks, and which shape stands in front.
        """
        if (words, kind) == (self._said, self._kind):
            return
        recoloured = kind != self._kind
        self._said, self._kind = words, kind
        before = self._lines
        self.fit()
        self.lay_out()
        pairs = enumerate(zip(before, self._lines, strict=False))
        if recoloured or len(before) != len(self._lines):
            self.refresh()
        else:
            self.changed(y for y, (old, new) in pairs if old != new)

    @property
    def said(self) -> str:
        """What it says, with its shape."""
        mark = MARKS.get(self._kind, "")
        return f"{mark} {self._said}" if mark and self._said else self._said

    def lay_out(self) -> None:
        """Choose the size, and place the letters."""
        width, height = self.room
        room = max(width - 2 * _MARGIN, 0)
        drawn = large(self.said, columns=room, rows=height)
        if not drawn and self._said:
            drawn = [cut(self.said, min(cells_of(self.said), room))]
        above = max((height - len(drawn)) // 2, 0)
        placed = [""] * above + [self._placed(line, room) for line in drawn]
        self._lines = (placed + [""] * height)[:height]

    def _placed(self, line: str, room: int) -> str:
        free = room - cells_of(line)
        left = {"center": free // 2, "right": free, "end": free}.get(self.styles.text_align, 0)
        return " " * (_MARGIN + left) + line

    def row(self, y: int) -> Iterable[Piece]:
        """Return one row of the letters."""
        return [(self._lines[y], LOOKS[self._kind])]
