"""Rows that move: drawn once, kept, and only those that changed drawn again."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Self

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from tui.present.looks import PLAIN

_NOTHING = Strip([], 0)

Piece = tuple[str, Style]
"""Words, safe for a terminal, and how they look."""


class Rows(Widget):
    """Base of what is redrawn thirty times a second.

    Textual styles, filters and divides every changed line of a widget anew; here looks go through its
    filters once, and a row's cells are handed over as they will be written. So these widgets have no
    border, padding or links of their own. The compositor writes a changed row from its left edge on,
    wherever in it the change was: what changes often and what does not belong into two widgets.
    """

    ALLOW_SELECT = False

    def __init__(self, *, name: str | None = None, id: str | None = None) -> None:  # noqa: A002 - Textual's own name for it
        super().__init__(name=name, id=id)
        self.room = Size(0, 0)
        """The size laid out for; asking Textual for it takes too long to do it for every picture."""
        self._strips: list[Strip] = []
        self._looks: dict[Style, Style] = {}
        self._dirty_rows: set[int] = set()
        self._stale = True

    def row(self, y: int) -> Iterable[Piece]:  # noqa: ARG002 - which one, for those that draw
        """Return one row in pieces; what is too long is cut at the edge, the rest stays free.

        Free all over, unless a widget draws something there.
        """
        return ()

    def lay_out(self) -> None:
        """Work out again what depends on the room there is."""

    def fit(self) -> None:
        """Lay out where the size is another; drawing does so by itself."""
        size = self.size
        if self.room != size:
            self.room = size
            self._stale = True
            self.lay_out()

    def on_resize(self) -> None:
        """Lay out, where nothing was drawn since the size is another."""
        self.fit()

    def changed(self, rows: Iterable[int]) -> None:
        """Draw these rows again with the next picture; neighbours go as one region, which is cheaper."""
        height, regions = len(self._strips), []
        top = below = -1
        for y in sorted(rows):
            if y >= height:
                break
            self._dirty_rows.add(y)
            if y > below:
                regions.append((top, below))
                top = y
            below = y + 1
        regions.append((top, below))
        width = self.room.width
        if below > 0:
            self.refresh(*(Region(0, y, width, end - y) for y, end in regions[1:]))

    def refresh(
        self,
        *regions: Region,
        repaint: bool = True,
        layout: bool = False,
        recompose: bool = False,
    ) -> Self:
        """Draw regions again, or everything: then colours may be others, too."""
        if not regions:
            self._stale = True
        return super().refresh(*regions, repaint=repaint, layout=layout, recompose=recompose)

    def notify_style_update(self) -> None:
        """Draw everything again in the colours that are now around it."""
        self._stale = True
        super().notify_style_update()

    @property
    def words(self) -> str:
        """What stands there, without looks."""
        self.fit()
        lines = ("".join(one.text for one in self._segments(y)) for y in range(self.room.height))
        return "\n".join(line.rstrip() for line in lines)

    def render_lines(self, crop: Region) -> list[Strip]:
        """Return rows as they were drawn, those that changed drawn anew."""
        if crop.size != self.room:  # all of it, unless it was resized or is partly out of sight
            self.fit()
        if self._stale:
            self._stale = False
            self._looks = {}
            self._dirty_rows = set(range(self.room.height))
            self._strips = [_NOTHING] * self.room.height
        for y in self._dirty_rows:
            self._strips[y] = Strip(self._segments(y), self.room.width)
        self._dirty_rows.clear()
        if crop.size == self.room:
            return self._strips
        return [self._strips[y].crop(*crop.column_span) for y in crop.line_range]

    def render_line(self, y: int) -> Strip:
        """Return one row."""
        return self.render_lines(Region(0, y, self.room.width, 1))[0]

    def _segments(self, y: int) -> list[Segment]:
        """Return a row in exactly the cells there are: the compositor trusts a strip's width."""
        segments, free, looks = [], self.room.width, self._looks
        for words, style in self.row(y):
            cells = cell_len(words)
            if cells > free:
                words, cells = set_cell_size(words, free), free  # noqa: PLW2901 - the same words, cut
            if cells:
                segments.append(Segment(words, looks.get(style) or self._look(style)))
                free -= cells
        if free:
            segments.append(Segment(" " * free, looks.get(PLAIN) or self._look(PLAIN)))
        return segments

    def _look(self, style: Style) -> Style:
        """Return a style on this widget's colours, as Textual's filters leave it; asked once for each."""
        segments = [Segment(" ", self.rich_style + style)]
        for one in self.get_line_filters():
            segments = one.apply(segments, self.background_colors[1])
        look = self._looks[style] = segments[0].style or style
        return look
