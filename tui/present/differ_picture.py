"""Two spectra at equal loudness, and what lies between them, drawn in cells: third octave by third octave.

A is a thin line, B a thick one; where both run through one cell they share its place, A first. Below them
what B has more stands over a line, what it has less hangs under it. Shape alone tells them apart.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.style import Style
from rich.text import Text

from audio.vocab.differences import Differences, ThirdApart
from audio.vocab.levels import ThirdLevel
from audio.vocab.units import with_sign
from tui.present.looks import ACCENT, FAINT, PLAIN, STRONG, text

GUTTER = 7
"""Cells of a scale's figures."""

THIN, THICK = "▔─▁", "▀■▄"
"""A line at the top of its cell, in its middle, at its foot: A's, and B's."""

ZERO, UNTOLD = "─", "·"
"""Where nothing lies between the two, and where nobody can tell."""
UP, DOWN, FULL = "▄", "▀", "█"

LABELS = {
    63.0: "63", 125.0: "125", 250.0: "250", 500.0: "500", 1000.0: "1k", 2000.0: "2k", 4000.0: "4k",
    8000.0: "8k", 16_000.0: "16k",
}  # fmt: skip

SPAN_DB = 60
"""Of the spectra: what lies further under the loudest band is not heard beside it."""
SCALES_DB = (3, 6, 12, 24, 48)
_LEVELS = 3
_UNSURE_TIMES = 3.0
"""A band under so many of its own errors is drawn faint: it moves by as much by itself."""


def picture(found: Differences, columns: int, rows: int) -> list[Text]:
    """Return both spectra, the frequencies, and the difference below.

    Parameters
    ----------
    found
        Any; where there is no spectrum one line says so.
    columns
        Cells there are.
    rows
        Rows there are, 10 or more: six tenths of them are the spectra's.

    Returns
    -------
    list of Text
        At most so many lines, none wider.
    """
    count, wide = len(found.a.thirds), columns - GUTTER
    if not count or not found.thirds or wide < 2 * count:
        return [text((" no spectrum: too little playing in common, or too narrow a window", FAINT))]
    edges = [at * wide // count for at in range(count + 1)]
    below = max((rows - 1) * 2 // 5 | 1, 3)
    lines = _spectra(found, edges, max(rows - 1 - below, 4))
    return [*lines, _axis(found.a.thirds, edges), *_bars(found.thirds, edges, below)]


def legend(a: str, b: str) -> Text:
    """Return which line is which."""
    return text(
        " " * GUTTER, (THIN, STRONG), (f" A {a}   ", PLAIN), (THICK, ACCENT), (f" B {b}", PLAIN)
    )  # fmt: skip


def scale_of(thirds: Sequence[ThirdApart]) -> int:
    """Return the decibels at the edge of the difference: the least of `SCALES_DB` that holds all."""
    most = max((abs(one.apart.db) for one in thirds if one.apart), default=0.0)
    return next((scale for scale in SCALES_DB if scale >= most), SCALES_DB[-1])


# ------------------------------------------------------------------ the spectra


def _spectra(found: Differences, edges: list[int], rows: int) -> list[Text]:
    louder = found.loudness.db if found.loudness else 0.0
    a = [one.dbfs for one in found.a.thirds]
    b = [one.dbfs - louder for one in found.b.thirds]
    top = math.ceil(max(*a, *b) / 10.0) * 10
    cells = [[(" ", PLAIN) for _ in range(edges[-1])] for _ in range(rows)]
    for at, (mine, other) in enumerate(zip(a, b, strict=True)):
        begin, end = edges[at], edges[at + 1]
        first, second = _place(mine, top, rows), _place(other, top, rows)
        shared = first is not None and second is not None and first[0] == second[0]
        middle = begin + max((end - begin) // 2, 1)
        if first is not None:
            _put(cells[first[0]], begin, middle if shared else end, THIN[first[1]], STRONG)
        if second is not None:
            _put(cells[second[0]], middle if shared else begin, end, THICK[second[1]], ACCENT)
    every = 2 if rows >= 8 else 3
    marks = {
        round(at * rows / (SPAN_DB / 10)): top - 10 * at for at in range(0, SPAN_DB // 10, every)
    }
    return [
        _gutter(_level(marks[y], is_first=y == 0) if y in marks else "") + _row(cells[y])
        for y in range(rows)
    ]


def _place(dbfs: float, top: int, rows: int) -> tuple[int, int] | None:
    """Return the row of a level and the place in it; None where it lies below the picture."""
    at = int((top - dbfs) / SPAN_DB * rows * _LEVELS)
    return divmod(at, _LEVELS) if 0 <= at < rows * _LEVELS else None


def _put(row: list[tuple[str, Style]], begin: int, end: int, glyph: str, look: Style) -> None:
    for x in range(begin, end):
        row[x] = (glyph, look)


def _level(dbfs: int, *, is_first: bool) -> str:
    return f"{dbfs}".replace("-", "\N{MINUS SIGN}") + (" dB" if is_first else "")


def _axis(thirds: Sequence[ThirdLevel], edges: list[int]) -> Text:
    """Return the line of the frequencies, each under the middle of its band."""
    cells = [" "] * edges[-1]
    free = 0
    for at, one in enumerate(thirds):
        label = LABELS.get(one.hz, "")
        begin = (edges[at] + edges[at + 1] - len(label)) // 2
        begin = min(max(begin, 0), edges[-1] - len(label))
        if label and begin >= free:
            cells[begin : begin + len(label)] = label
            free = begin + len(label) + 1
    return _gutter("Hz") + text(("".join(cells), FAINT))


# ------------------------------------------------------------------ what lies between them


def _bars(thirds: Sequence[ThirdApart], edges: list[int], rows: int) -> list[Text]:
    scale, half = scale_of(thirds), rows // 2
    lines = []
    for y in range(rows):
        row: list[tuple[str, Style]] = [(" ", PLAIN)] * edges[-1]
        for at, one in enumerate(thirds):
            glyph, look = _bar(one, half - y, scale, half)
            _put(row, edges[at], edges[at + 1], glyph, look)
        edge = {0: f"{with_sign(scale)} dB", half: "0", rows - 1: with_sign(-scale)}.get(y, "")
        lines.append(_gutter(edge) + _row(row))
    return lines


def _bar(one: ThirdApart, height: int, scale: int, half: int) -> tuple[str, Style]:
    """Return what stands in a cell so many rows over the line, 0 on it."""
    if one.apart is None:
        return (UNTOLD, FAINT) if height == 0 else (" ", PLAIN)
    if height == 0:
        return ZERO, FAINT
    unsure = one.apart.plus_minus_db
    is_sure = unsure is None or abs(one.apart.db) >= _UNSURE_TIMES * unsure
    db = one.apart.db if height > 0 else -one.apart.db
    halves = round(min(max(db, 0.0), scale) / scale * half * 2) - 2 * (abs(height) - 1)
    look = ACCENT if is_sure else FAINT
    if halves <= 0:
        return " ", PLAIN
    return (FULL if halves > 1 else UP if height > 0 else DOWN), look


def _gutter(words: str) -> Text:
    return text((f"{words:>{GUTTER - 1}} ", FAINT))


def _row(cells: list[tuple[str, Style]]) -> Text:
    runs: list[tuple[str, Style]] = []
    for glyph, look in cells:
        if runs and runs[-1][1] is look:
            runs[-1] = (runs[-1][0] + glyph, look)
        else:
            runs.append((glyph, look))
    return text(*runs)
