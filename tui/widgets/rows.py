"""Rows that move: drawn once, kept, and only those that changed drawn again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual.filter import LineFilter
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from tui.present.looks import PLAIN

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
        self._strips: list[Strip | None] = []
        self._looks: dict[Style, Style] = {}
        self._drawn_for: tuple[Size, Style, Sequence[LineFilter]] | None = None
        self._fitted = Size(0, 0)

    def row(self, y: int) -> Iterable[Piece]:
        """Return one row in pieces; what is too long is cut at the edge, the rest stays free."""
        raise NotImplementedError

    def lay_out(self) -> None:
        """Work out again what depends on the widget's size."""

    def fit(self) -> None:
        """Lay out where the size is another; what counts rows or columns calls it first."""
        if self._fitted != self.size:
            self._fitted = self.size
            self.lay_out()

    def changed(self, rows: Iterable[int]) -> None:
        """Draw these rows again with the next picture."""
        width, strips = self.size.width, self._strips
        regions = []
        for y in rows:
            if y < len(strips):
                strips[y] = None
                regions.append(Region(0, y, width, 1))
        if regions:
            self.refresh(*regions)

    def changed_all(self) -> None:
        """Draw everything again with the next picture."""
        self._strips = [None] * len(self._strips)
        self.refresh()

    @property
    def words(self) -> str:
        """What stands there, without looks."""
        self.fit()
        width, height = self.size
        rows = (_exactly(self.row(y), width) for y in range(height))
        return "\n".join("".join(words for words, _ in row).rstrip() for row in rows)

    def render_lines(self, crop: Region) -> list[Strip]:
        """Return rows as they were drawn, those that changed drawn anew."""
        self._renew()
        strips = [self.render_line(y) for y in crop.line_range]
        if crop.column_span == (0, self.size.width):
            return strips
        return [strip.crop(*crop.column_span) for strip in strips]

    def render_line(self, y: int) -> Strip:
        """Return one row."""
        strip = self._strips[y]
        if strip is None:
            look, width = self._look, self.size.width
            segments = [
                Segment(words, look(style)) for words, style in _exactly(self.row(y), width)
            ]
            strip = self._strips[y] = Strip(segments, width)
        return strip

    def _renew(self) -> None:
        """Forget everything where size, colours around it or Textual's filters are not those drawn for."""
        self.fit()
        now = (self.size, self.rich_style, self.get_line_filters())
        if now != self._drawn_for:
            self._drawn_for = now
            self._looks = {}
            self._strips = [None] * self.size.height

    def _look(self, style: Style) -> Style:
        look = self._looks.get(style)
        if look is None:
            segments = [Segment(" ", self.rich_style + style)]
            for one in self.get_line_filters():
                segments = one.apply(segments, self.background_colors[1])
            look = self._looks[style] = segments[0].style or style
        return look


def _exactly(pieces: Iterable[Piece], width: int) -> list[Piece]:
    """Return pieces in exactly so many cells: the compositor trusts a strip's width."""
    kept: list[Piece] = []
    room = width
    for words, style in pieces:
        cells = cell_len(words)
        if cells > room:
            kept.append((set_cell_size(words, room), style))
            return [piece for piece in kept if piece[0]]
        room -= cells
        kept.append((words, style))
    kept.append((" " * room, PLAIN))
    return [piece for piece in kept if piece[0]]
