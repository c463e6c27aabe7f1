"""Both test clicks of a pass, drawn over each other on one axis of milliseconds from the first arrival.

The opening click is filled from its zero line; the closing one is a row of dots, drawn only where it leaves
the opening one. Two clicks that agree are one picture, in any colour and in none.
"""

from __future__ import annotations

from itertools import groupby

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

SPANS_MS = (4.0, 2.0, 1.0, 0.5)
"""What a picture spans, the widest first; a quarter of it lies before the arrival."""

USUAL = 1
"""Which of them is shown first: one value a cell on a narrow screen, and all that moves with a frame."""

GUTTER = 10
"""Cells of a return's name in front of its picture."""

DOT = "•"
SEEN = 0.12
"""A closing click is drawn where it leaves the opening one by more than this share of the picture's half:
about what half a frame at 48 kHz makes of a click of 2 kHz. What is finer stands in the figures."""

_Samples = list[list[float | None]]
"""For each cell of a row the values that share it, −1 to 1; None where there is none."""

_FREE = (" ", wave_cells.ZERO, wave_cells.BAR, wave_cells.ACROSS)

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


def axis(columns: int, span_ms: float) -> Text:
    """Return the ruler over the pictures: milliseconds, and the mark at the first arrival."""
    width = width_of(columns)
    if not width:
        return text()
    ticks = [(at * width // 4, _ms((at - 1) * span_ms / 4)) for at in (0, 2, 3)]
    pieces = line(thinned(ticks, width), marked([(width // 4, "first arrival")], width), width)
    shown = [(words, ACCENT if is_mark else FAINT) for words, is_mark in pieces]
    return text(" " * (GUTTER + 1), *shown)


def _ms(ms: float) -> str:
    return f"{ms:+g} ms".replace("-", "\N{MINUS SIGN}")


def picture(
    file: VariantFile,
    first: ClickReading | None,
    last: ClickReading | None,
    *,
    rate: int,
    columns: int,
    rows: int,
    span_ms: float,
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
    span_ms
        One of `SPANS_MS`.

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
    by_ms = ms_from_frames(_later(first, last), rate=rate)
    opening = _sampled(first, 0.0, width, span_ms)
    closing = _sampled(last, by_ms, width, span_ms)
    drawn = _cells(opening, closing, rows)
    lines = [_labelled(name if y == rows // 2 else "", _row(row)) for y, row in enumerate(drawn)]
    return [*lines, *_beyond(first, last, by_ms, span_ms)]


def _beyond(
    first: ClickReading | None, last: ClickReading | None, by_ms: float, span_ms: float
) -> list[Text]:
    """Return a line where the closing click's arrival is not in the picture: nothing drawn means alike."""
    pair = all(one is not None and one.shape for one in (first, last))
    if not pair or 0.0 <= span_ms / 4 + by_ms < span_ms:
        return []
    side = "left" if by_ms < 0.0 else "right"
    return [_labelled("", text((f"closing click is off to the {side}", ACCENT)))]


def _later(first: ClickReading | None, last: ClickReading | None) -> float:
    """Return how many frames later the closing click's shape begins; 0 where one has none."""
    if first is None or last is None or not first.shape or not last.shape:
        return 0.0
    return (last.delay_frames or 0.0) - (first.delay_frames or 0.0)


def _labelled(name: str, row: Text) -> Text:
    return text(" ", (cut(name, GUTTER), STRONG)) + row


def _why_not(first: ClickReading | None) -> str:
    if first is None:
        return "no click was played"
    if first.reason is not None:
        return f"not heard: {first.reason}"
    return "heard, its picture not kept"


def _sampled(one: ClickReading | None, by_ms: float, width: int, span_ms: float) -> _Samples:
    """Return a click so much later than the axis's arrival: for each cell the values that share it."""
    per = span_ms / STEP_MS / width
    many = max(round(per), 1)
    if one is None or not one.shape:
        return [[None] * many for _ in range(width)]
    values = [value / FULL for value in one.shape]
    start = (BEFORE_MS - span_ms / 4 - by_ms) / STEP_MS
    return [[_at(values, start + (x + i / many) * per) for i in range(many)] for x in range(width)]


def _at(values: list[float], at: float) -> float | None:
    """Return the value at a place between the given ones, by cubic curves (Catmull and Rom 1974)."""
    last = len(values) - 1
    if not 0 <= at <= last:
        return None
    whole = int(at)
    a, b, c, d = (values[min(max(whole + i, 0), last)] for i in (-1, 0, 1, 2))
    t = at - whole
    return b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))


# ---------------------------------------------------------------- cells


def _cells(opening: _Samples, closing: _Samples, rows: int) -> list[list[tuple[str, Style]]]:
    drawn = wave_cells.cells([_column(one) for one in opening], rows=rows, top=1.0)
    wave_cells.ruled(drawn, [Line(len(opening) // 4, True, "")], single=(), here=None)
    shown = [[(glyph, _LOOKS[kind]) for glyph, kind in row] for row in drawn]
    for x, (before, after) in enumerate(zip(opening, closing, strict=True)):
        for y in _dots(before, after, rows):
            is_free = shown[y][x][0] in _FREE
            shown[y][x] = (DOT, ACCENT if is_free else ACCENT + Style(reverse=True))
    return shown


def _column(values: list[float | None]) -> Column:
    known = [one for one in values if one is not None]
    return (min(known), max(known)) if known else None


def _dots(opening: list[float | None], closing: list[float | None], rows: int) -> set[int]:
    """Return the rows in which a closing click leaves the opening one within a cell."""
    away = [
        after
        for before, after in zip(opening, closing, strict=True)
        if after is not None and (before is None or abs(after - before) > SEEN)
    ]
    return {min(max(round((1.0 - one) / 2 * rows - 0.5), 0), rows - 1) for one in away}


def _row(cells: list[tuple[str, Style]]) -> Text:
    runs = groupby(cells, key=lambda cell: cell[1])
    return text(*(("".join(glyph for glyph, _ in run), look) for look, run in runs))
