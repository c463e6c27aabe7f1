"""Both test clicks of a pass, drawn over each other on one axis of milliseconds from the first arrival.

The opening click is filled from its zero line; the closing one is a row of dots, drawn only where it leaves
the opening one. Two clicks that agree are one picture, in any colour and in none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.style import Style
from rich.text import Text

from audio.vocab.results import ClickReading
from audio.vocab.units import ms_from_frames
from audio.vocab.variant import VariantFile
from tui.present import wave_cells
from tui.present.bars import Line
from tui.present.glyphs import cut
from tui.present.looks import ACCENT, FAINT, STRONG, text
from tui.present.ruler import line, marked, thinned
from tui.present.waves import Column

VALUES = 128
"""Of a click's shape."""
STEP_MS = 1 / 32
BEFORE_MS = 1.0
FULL = 127.0

GUTTER = 10
"""Cells of a return's name in front of its picture."""

DOT = "•"
SEEN = 0.12
"""A closing click is drawn where it leaves the opening one by more than this share of the picture's half:
one step of the glyphs at seven rows, so that rounding draws nothing."""

_LOOKS: dict[wave_cells.Kind, Style] = {
    "sound": Style(color="#b4bac2"),
    "hanging": Style(color="#b4bac2", reverse=True),
    "line": FAINT,
    "here": ACCENT,
    "here hanging": ACCENT + Style(reverse=True),
}


def width_of(columns: int) -> int:
    """Return how many cells a picture takes of so many: the values fall evenly into them."""
    room = columns - GUTTER - 2
    return next((wide for wide in (VALUES, VALUES // 2, VALUES // 4) if wide <= room), 0)


def axis(columns: int) -> Text:
    """Return the ruler over the pictures: milliseconds, and the mark at the first arrival."""
    width = width_of(columns)
    if not width:
        return text()
    per_ms = width / (VALUES * STEP_MS)
    ticks = [(round(ms * per_ms), f"{_signed(ms - BEFORE_MS)} ms") for ms in range(4)]
    pieces = line(thinned(ticks, width), marked([(round(per_ms), "first arrival")], width), width)
    shown = [(words, ACCENT if is_mark else FAINT) for words, is_mark in pieces]
    return text(" " * (GUTTER + 1), *shown)


def _signed(ms: float) -> str:
    return f"{ms:+.0f}".replace("-", "\N{MINUS SIGN}") if ms else "0"


def picture(
    file: VariantFile,
    first: ClickReading | None,
    last: ClickReading | None,
    *,
    rate: int,
    columns: int,
    rows: int,
) -> list[Text]:
    """Return one return's clicks.

    Parameters
    ----------
    file
        The return's.
    first
        Opening click, or None.
    last
        Closing click, or None.
    rate
        Frames a second.
    columns
        Cells there are.
    rows
        Rows of the picture, 3 or more and odd.

    Returns
    -------
    list of Text
        So many rows, and one more where the closing click lies beyond them; one row with the reason where
        no click has a shape; none where there is no room.
    """
    width, name = width_of(columns), file.return_name
    if not width:
        return []
    if not any(one is not None and one.shape for one in (first, last)):
        return [_labelled(name, text((_why_not(first), FAINT)))]
    opening, closing = _opening(first), _closing(first, last, rate)
    drawn = _cells(opening, closing, width, rows)
    lines = [_labelled(name if y == rows // 2 else "", _row(row)) for y, row in enumerate(drawn)]
    return [*lines, *_beyond(first, last, rate)]


def _beyond(first: ClickReading | None, last: ClickReading | None, rate: int) -> list[Text]:
    """Return a line where the closing click's arrival is not in the picture: nothing drawn means alike."""
    if first is None or last is None or not first.shape or not last.shape:
        return []
    at_ms = BEFORE_MS + ms_from_frames(_later(first, last), rate=rate)
    if 0.0 <= at_ms < VALUES * STEP_MS:
        return []
    side = "left" if at_ms < 0.0 else "right"
    return [_labelled("", text((f"the closing click lies beyond the {side} edge", ACCENT)))]


def _later(first: ClickReading, last: ClickReading) -> float:
    return (last.delay_frames or 0.0) - (first.delay_frames or 0.0)


def _labelled(name: str, row: Text) -> Text:
    return text(" ", (cut(name, GUTTER), STRONG)) + row


def _why_not(first: ClickReading | None) -> str:
    if first is None:
        return "no click was played"
    if first.reason is not None:
        return f"not heard: {first.reason}"
    return "heard, but its picture was not kept"


def _opening(first: ClickReading | None) -> list[float | None]:
    if first is None or not first.shape:
        return [None] * VALUES
    return [value / FULL for value in _padded(first.shape)]


def _padded(shape: Sequence[int]) -> list[int]:
    return [*shape[:VALUES], *[0] * (VALUES - len(shape))]


def _closing(
    first: ClickReading | None, last: ClickReading | None, rate: int
) -> list[float | None] | None:
    """Return the closing click on the opening one's axis: each shape begins before its own arrival."""
    if last is None or not last.shape:
        return None
    by_ms = 0.0
    if first is not None and first.shape:
        by_ms = ms_from_frames(_later(first, last), rate=rate)
    return _shifted([value / FULL for value in _padded(last.shape)], by_ms / STEP_MS)


def _shifted(values: list[float], by: float) -> list[float | None]:
    """Return values so many steps later, between the given ones by cubic curves (Catmull and Rom 1974)."""
    found: list[float | None] = []
    for x in range(len(values)):
        at = math.floor(x - by)
        if not 0 <= x - by <= len(values) - 1:
            found.append(None)
            continue
        a, b, c, d = (values[min(max(at + i, 0), len(values) - 1)] for i in (-1, 0, 1, 2))
        t = x - by - at
        curve = (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)) * t
        found.append(b + 0.5 * t * (c - a + curve))
    return found


# ---------------------------------------------------------------- cells


def _cells(
    opening: list[float | None], closing: list[float | None] | None, width: int, rows: int
) -> list[list[tuple[str, Style]]]:
    drawn = wave_cells.cells(_columns(opening, width), rows=rows, top=1.0)
    wave_cells.ruled(drawn, [Line(_arrival(width), True, "")], single=(), here=None)
    shown = [[(glyph, _LOOKS[kind]) for glyph, kind in row] for row in drawn]
    if closing is not None:
        _dotted(shown, opening, closing, width)
    return shown


def _arrival(width: int) -> int:
    return round(BEFORE_MS / STEP_MS * width / VALUES)


def _columns(values: list[float | None], width: int) -> list[Column]:
    found: list[Column] = []
    for here in _shared(values, width):
        known = [one for one in here if one is not None]
        found.append((min(known), max(known)) if known else None)
    return found


def _shared(values: list[float | None], width: int) -> list[list[float | None]]:
    per = VALUES // width
    return [values[x * per : (x + 1) * per] for x in range(width)]


def _dotted(
    shown: list[list[tuple[str, Style]]],
    opening: list[float | None],
    closing: list[float | None],
    width: int,
) -> None:
    """Draw the closing click's dots where it leaves the opening one; changed in place."""
    rows = len(shown)
    for x, (there, here) in enumerate(
        zip(_shared(opening, width), _shared(closing, width), strict=True)
    ):
        for before, after in zip(there, here, strict=True):
            if after is None or (before is not None and abs(after - before) <= SEEN):
                continue
            y = min(max(round((1.0 - after) / 2 * rows - 0.5), 0), rows - 1)
            filled = shown[y][x][0] not in (" ", wave_cells.ZERO, wave_cells.BAR, wave_cells.ACROSS)
            shown[y][x] = (DOT, ACCENT + Style(reverse=True) if filled else ACCENT)


def _row(cells: list[tuple[str, Style]]) -> Text:
    found = text()
    for glyph, look in cells:
        found.append(glyph, look)
    return found
