"""The lanes' time axis: a ruler, names at the left, and in each lane what has passed, column by column."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial

from rich.style import Style

from tui.present.glyphs import BASELINE, CLIPPED, PLAYHEAD, cells_of, column, cut, steps_of_ratio
from tui.present.history import History
from tui.present.lane_places import places
from tui.present.looks import ACCENT, BAD, FAINT, PLAIN, STRONG
from tui.present.ruler import ruler
from tui.widgets.rows import Piece, Rows

Ahead = Callable[[float, float], float]
"""The linear peak of what will be sent between two times, seconds."""

NARROWEST_LABEL = 8
LABEL_SHARE = 0.3
"""What labels take of the width at most."""

WIDEST_LABEL = 30

DRAW_EVERY_S = 0.1
"""A column grows ten times a second at most: meters show what is quicker."""


MARGIN = 1
GAP = 2
"""Cells between a label and the columns."""

SOUND = Style(color="#b4bac2")
COMING = Style(color="#5c636c")
"""What is still to be sent; the playhead stands between both, so that no colour is needed."""

_NO_BINS = range(0)

_LOOKS = {BASELINE: FAINT, CLIPPED: BAD}
_RUNS = re.compile(f"{BASELINE}+|{CLIPPED}+|[^{BASELINE}{CLIPPED}]+")


class Axis(Rows):
    """Ruler, labels and columns of all lanes."""

    DEFAULT_CSS = "Axis { width: 1fr; height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._names: tuple[str, ...] = ()
        self._channels: tuple[str, ...] = ()
        self._ticks: tuple[tuple[float, str], ...] = ()
        self._marks: list[tuple[float, str]] = []
        self._ahead: Ahead | None = None
        self._first_span_s = 1.0
        self._history = History(lanes=0, span_s=1.0)
        self._undrawn: list[range] = []
        self._clipped: tuple[bool, ...] = ()
        self._drawn_s = -math.inf
        self._playhead: int | None = None
        self._places = places(0, 0)
        self._label = 0
        self._labels: dict[tuple[int, int], list[Piece]] = {}
        self._columns = 0
        self._cells: list[list[list[str]]] = []
        self._found: list[list[tuple[float, bool] | None]] = []
        self._coming: list[list[str]] = []
        self._ruler: list[Piece] = []

    # ------------------------------------------------------------ what is told

    def begin(
        self,
        *,
        names: tuple[str, ...],
        channels: tuple[str, ...],
        span_s: float,
        ticks: tuple[tuple[float, str], ...],
        ahead: Ahead | None,
    ) -> None:
        """Start an empty axis; see `tui.widgets.lanes.Lanes.begin`."""
        self._history = History(lanes=len(names), span_s=span_s)
        self._names, self._channels, self._ticks = names, channels, ticks
        self._marks, self._ahead, self._first_span_s = [], ahead, span_s
        self._clipped = (False,) * len(names)
        self._playhead, self._drawn_s = None, -math.inf
        self.lay_out()
        self.refresh()

    def advance(self, at_s: Sequence[float], peaks: Sequence[float], clips: Sequence[bool]) -> None:
        """Take in where each lane is, its linear peak, and whether it clipped since the last picture.

        Drawing waits until there is something to see: the playhead's next column, or a tenth of a second.
        """
        grown = self._history.reach(max(at_s))
        for lane, (at, peak, clipped) in enumerate(zip(at_s, peaks, clips, strict=True)):
            bins = self._history.put(lane, at, peak, clipped=clipped)
            if bins:
                self._undrawn[lane] = _joined(self._undrawn[lane], bins)
        playhead = self._history.place(at_s[0], self._columns)
        dirty = set(self._latch(clips) if any(clips) else ())
        if grown:
            self._playhead = playhead
            self.lay_out()
            self.refresh()
        elif playhead != self._playhead or abs(at_s[0] - self._drawn_s) >= DRAW_EVERY_S:
            self._drawn_s = at_s[0]
            dirty |= self._draw_new() | self._moved(playhead)
        self.changed(dirty)

    def _draw_new(self) -> set[int]:
        """Draw what was not drawn yet; return the rows to write again."""
        dirty: set[int] = set()
        for lane in range(self._places.shown if self._columns else 0):
            bins = self._undrawn[lane]
            if bins:
                dirty.update(self._draw(lane, self._history.over(bins, self._columns)))
        self._undrawn = [_NO_BINS] * len(self._names)
        return dirty

    def _latch(self, clips: Sequence[bool]) -> Iterable[int]:
        """Remember who clipped; return the row that tells it of lanes without room, where that is news."""
        before = self._clipped
        self._clipped = tuple(map(max, before, clips))
        row = self._places.more_row
        return () if row is None or before == self._clipped else (row,)

    def mark(self, at_s: float, word: str) -> None:
        """Mark a lost place on the ruler."""
        self._marks.append((at_s, word))
        self._lay_out_ruler()
        self.changed([0])

    @property
    def span_s(self) -> float:
        """Seconds the axis spans now."""
        return self._history.span_s

    # ------------------------------------------------------------ where it stands

    def lay_out(self) -> None:
        """Work out rows and columns for this size, and draw every lane from its history."""
        width, height = self.room
        self._places = places(len(self._names), height)
        self._label = self._label_cells(width)
        self._columns = max(width - self._label, 0)
        shown = self._places.shown
        rows = range(self._places.height)
        self._cells = [[[" "] * self._columns for _ in rows] for _ in range(shown)]
        self._found = [[None] * self._columns for _ in range(shown)]
        for lane in range(shown):
            self._draw(lane, range(self._columns))
        self._undrawn = [_NO_BINS] * len(self._names)
        self._labels = {
            (lane, inner): self._label_pieces(lane, inner)
            for lane in range(shown)
            for inner in rows
        }
        self._lay_out_ahead()
        self._lay_out_ruler()

    def _label_cells(self, width: int) -> int:
        one_line = self._places.height == 1
        wanted = max((self._wanted(lane, one_line) for lane in range(len(self._names))), default=0)
        most = max(NARROWEST_LABEL, min(int(width * LABEL_SHARE), WIDEST_LABEL))
        return min(MARGIN + wanted + GAP, most, width)

    def _wanted(self, lane: int, one_line: bool) -> int:
        name, channel = cells_of(self._names[lane]), cells_of(self._channels[lane])
        return name + 1 + channel if one_line else max(name, channel)

    def _lay_out_ahead(self) -> None:
        self._coming = [[] for _ in range(self._places.height)]
        if self._ahead is None or not self._columns or not self._places.shown:
            return
        seconds, rows = self._history.span_s / self._columns, self._places.height
        for x in range(self._columns):
            filled = steps_of_ratio(self._ahead(x * seconds, (x + 1) * seconds), rows)
            for row, glyph in zip(self._coming, column(filled, rows), strict=True):
                row.append(glyph)

    def _lay_out_ruler(self) -> None:
        pieces = ruler(
            ticks=self._ticks,
            marks=self._marks,
            tail_s=self._first_span_s,
            place=partial(self._history.place, columns=self._columns),
            columns=self._columns,
        )
        self._ruler = [(words, BAD if is_lost else FAINT) for words, is_lost in pieces]

    # ------------------------------------------------------------ drawing

    def _draw(self, lane: int, columns: range) -> Iterable[int]:
        """Draw some columns from the history; return the rows to write again."""
        changed = False
        for x in columns:
            found = self._history.column(lane, x, self._columns)
            if found is not None and found != self._found[lane][x]:
                self._found[lane][x] = found
                # what grows under the playhead is seen when it has moved on
                changed = (self._put(lane, x, found) and x != self._playhead) or changed
        return self._places.rows_of(lane) if changed else ()

    def _put(self, lane: int, x: int, found: tuple[float, bool]) -> bool:
        cells = self._cells[lane]
        filled = steps_of_ratio(found[0], len(cells))
        glyphs = column(filled, len(cells), clipped=found[1], empty=BASELINE)
        if all(row[x] == glyph for row, glyph in zip(cells, glyphs, strict=True)):
            return False
        for row, glyph in zip(cells, glyphs, strict=True):
            row[x] = glyph
        return True

    def _moved(self, playhead: int | None) -> set[int]:
        if playhead == self._playhead:
            return set()
        self._playhead = playhead
        return {y for lane in range(self._places.shown) for y in self._places.rows_of(lane)}

    def row(self, y: int) -> Iterable[Piece]:
        """Return the ruler, a row of a lane, or the word of the lanes that have no room."""
        if y == 0:
            return [(" " * self._label, PLAIN), *self._ruler]
        if y == self._places.more_row:
            return [(cut(f" {self._more_words()}", self.room.width), PLAIN)]
        at = self._places.at(y)
        if at is None:
            return []
        return [*self._labels[at], *self._column_pieces(*at)]

    def _more_words(self) -> str:
        hidden = range(self._places.shown, len(self._names))
        clipped = [self._names[lane] for lane in hidden if self._clipped[lane]]
        return f"+ {len(hidden)} more" + (f", CLIP: {', '.join(clipped)}" if clipped else "")

    def _label_pieces(self, lane: int, inner: int) -> list[Piece]:
        name, channel = self._names[lane], self._channels[lane]
        cells = max(self._label - MARGIN - GAP, 0)
        margin, gap = (" " * MARGIN, PLAIN), (" " * GAP, PLAIN)
        if self._places.height == 1:
            end = min(cells_of(channel) + 1, cells) if channel else 0
            return [margin, (cut(name, cells - end), STRONG), (cut(f" {channel}", end), FAINT), gap]
        words_row = self._places.words_row
        words = {words_row: (name, STRONG), words_row + 1: (channel, FAINT)}
        text, look = words.get(inner, ("", PLAIN))
        return [margin, (cut(text, cells), look), gap]

    def _column_pieces(self, lane: int, inner: int) -> Iterator[Piece]:
        cells, playhead = self._cells[lane][inner], self._playhead
        coming = self._coming[inner] if lane == 0 else []
        if not cells:
            return
        begun = 0
        if playhead is not None:
            begun = playhead + 1
            yield from _runs(cells[:playhead])
            yield (PLAYHEAD, ACCENT)
        if coming:
            yield ("".join(coming[begun:]), COMING)
        else:
            yield from _runs(cells[begun:])


def _runs(cells: Sequence[str]) -> Iterator[Piece]:
    for run in _RUNS.findall("".join(cells)):
        yield (run, _LOOKS.get(run[0], SOUND))


def _joined(one: range, other: range) -> range:
    return range(min(one.start, other.start), max(one.stop, other.stop)) if one else other
