"""Columns of a waveform as cells: block glyphs from the middle line up, the same hanging from it down.

A block glyph fills its cell from below; what hangs from above is the glyph of the rest, reversed. So one
row resolves sixteen steps, and shape alone shows it, without colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Literal

from tui.present.bars import Line
from tui.present.glyphs import EIGHTHS, column
from tui.present.waves import Column

Kind = Literal["sound", "hanging", "line", "here", "here hanging"]
"""Sound; sound whose glyph is to be reversed; what is drawn through free cells; the column of the cursor,
its glyphs as they are and to be reversed."""

Cell = tuple[str, Kind]

ZERO = "─"
BAR = "│"
BEAT = "┊"
ACROSS = "┼"
"""Where a line meets the zero line."""

HERE = "┃"

TWO_SIDED_ROWS = 3
"""Fewer rows than this show how large samples are, not which way they go."""

_HALF = EIGHTHS // 2
_SEEN = _HALF // 2
"""Eighths from which half of the middle cell is filled."""

_MIDDLES: dict[tuple[bool, bool], Cell] = {
    (False, False): (ZERO, "line"),
    (True, False): ("▀", "sound"),
    (False, True): ("▄", "sound"),
    (True, True): ("█", "sound"),
}

_FREE: Cell = (" ", "line")


def lane_rows(rows: int) -> int:
    """Return how many of so many rows a waveform takes: an odd number has a middle for its zero line."""
    return rows if rows < TWO_SIDED_ROWS else rows - 1 + rows % 2


def cells(columns: Sequence[Column], *, rows: int, top: float) -> list[list[Cell]]:
    """Return the rows of a waveform.

    Parameters
    ----------
    columns
        As `tui.present.waves.columns` gives them; each is filled from the zero line to its extremes.
    rows
        As `lane_rows` gives them.
    top
        The linear level at the upper edge, over 0.

    Returns
    -------
    list of list of (str, Kind)
        From the top row to the bottom row, a cell for each column.
    """
    per_unit = (_HALF * rows if rows >= TWO_SIDED_ROWS else EIGHTHS * rows) / top
    drawn = (_column(one, rows, per_unit) for one in columns)
    return [list(row) for row in zip(*drawn, strict=True)] or [[] for _ in range(rows)]


def _column(one: Column, rows: int, per_unit: float) -> tuple[Cell, ...]:
    if one is None:
        return (_FREE,) * rows
    up, down = round(max(one[1], 0.0) * per_unit), round(max(-one[0], 0.0) * per_unit)
    most = EIGHTHS * rows
    if rows < TWO_SIDED_ROWS:
        return _one_sided(min(max(up, down), most), rows)
    return _two_sided(min(up, most), min(down, most), rows // 2)


def _one_sided(filled: int, rows: int) -> tuple[Cell, ...]:
    return tuple((glyph, "sound") for glyph in column(filled, rows, empty="▁"))


def _two_sided(up: int, down: int, half_rows: int) -> tuple[Cell, ...]:
    return (
        *_upper(max(up - _HALF, 0), half_rows),
        _MIDDLES[up >= _SEEN, down >= _SEEN],
        *_lower(max(down - _HALF, 0), half_rows),
    )


@lru_cache(1024)
def _upper(filled: int, rows: int) -> tuple[Cell, ...]:
    return tuple(_FREE if g == " " else (g, "sound") for g in column(filled, rows))


@lru_cache(1024)
def _lower(filled: int, rows: int) -> tuple[Cell, ...]:
    return tuple(_hanging(rest) for rest in column(EIGHTHS * rows - filled, rows))


def _hanging(rest: str) -> Cell:
    """Return the cell that is filled where a glyph is not."""
    if rest == "█":
        return _FREE
    return ("█", "sound") if rest == " " else (rest, "hanging")


def ruled(
    rows: list[list[Cell]], lines: Iterable[Line], *, single: Iterable[int], here: int | None
) -> None:
    """Draw lines and the cursor through what is free in some rows; sound is never hidden.

    Parameters
    ----------
    rows
        As `cells` gives them; changed in place.
    lines
        Bars and beats.
    single
        Columns of single samples, marked on the zero line: a sample of nothing is there, too.
    here
        Column of the cursor, if it is in view.
    """
    for x in single:
        for row in rows:
            if row[x][0] == ZERO:
                row[x] = (ACROSS, "line")
    for line in lines:
        for row in rows:
            _cross(row, line)
    if here is not None:
        for row in rows:
            glyph, kind = row[here]
            hanging = kind == "hanging"
            row[here] = (HERE if kind == "line" else glyph, "here hanging" if hanging else "here")


def _cross(row: list[Cell], line: Line) -> None:
    glyph, kind = row[line.column]
    if kind == "line":
        along = BAR if line.is_bar else BEAT
        row[line.column] = (along if glyph == " " else ACROSS, "line")
