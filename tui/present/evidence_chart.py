"""The placement along the pass: how far each proof lies from where it began, against time, a lane for each.

A lane is as high as the largest move needs, one frame either way at least; its scale is written beside it.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from rich.style import Style
from rich.text import Text

from audio.vocab.alignment import Alignment, Slip
from audio.vocab.units import clock_time, with_sign
from audio.vocab.variant import Variant
from tui.present.glyphs import cut
from tui.present.looks import ACCENT, BAD, FAINT, PLAIN, STRONG, paragraph, text
from tui.present.ruler import line, marked, thinned

GUTTER = 14
"""Cells of a lane's name and scale."""
_NAME = 8

UPPER, MIDDLE, LOWER, SEVERAL = "▀", "■", "▄", "█"
"""Where in its cell a place lies; the last stands where several differ."""
ZERO = "─"
SLIP = "┊"

_LEVELS = 3
"""Places told apart in a cell."""
_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800)
_MOST_TICKS = 9


def along(variant: Variant, columns: int, rows: int) -> list[Text]:
    """Return the lanes of a pass, a lane for each proof that was followed along it.

    Parameters
    ----------
    variant
        Any; a proof that tells nothing has its reason instead of a lane.
    columns
        Cells there are.
    rows
        Rows of each lane, odd.

    Returns
    -------
    list of Text
        A ruler of the pass's time, where frames were lost or inserted marked on it, and the lanes below;
        none where nothing was compared.
    """
    found = (("loop", variant.loop), ("witness", variant.witness), ("music", variant.music))
    given = [(name, one) for name, one in found if one is not None]
    wide = columns - GUTTER - 2
    if not given or wide < 1:
        return []
    lanes = [row for name, one in given for row in _lane(name, one, variant, wide, rows)]
    drawn = any(_drawable(one) for _, one in given)
    return [*([_ruler(variant, [one for _, one in given], wide)] if drawn else []), *lanes]


def column_of(frame: int, frames: int, width: int) -> int:
    """Return the column of a frame of a DI; what lies outside stands at its nearer end."""
    return min(max(frame * width // max(frames, 1), 0), width - 1)


def scale_of(moves: Iterable[float]) -> int:
    """Return the whole frames at a lane's edge: 1, 2, 5, 10, 20 … that hold every move."""
    most, scale = max((abs(one) for one in moves), default=0.0), 1
    while scale < most:
        scale = scale * 5 // 2 if f"{scale}".startswith("2") else scale * 2
    return scale


def _played(variant: Variant) -> int:
    """Return how many frames of the DI lie along the lanes."""
    return variant.covers.frames if variant.covers else variant.di.frames


def _drawable(one: Alignment) -> bool:
    return one.reason is None and one.delay_frames is not None and bool(one.places)


def _ruler(variant: Variant, found: list[Alignment], wide: int) -> Text:
    frames, rate = _played(variant), variant.sample_rate
    begin = variant.covers.from_frame if variant.covers else 0
    span_s = frames / rate
    step = next((s for s in _STEPS_S if span_s / s <= _MOST_TICKS), _STEPS_S[-1])
    first = -(-begin // (rate * step)) * step
    at_s = range(first, (begin + frames) // rate + 1, step)
    ticks = [(column_of(s * rate - begin, frames, wide), clock_time(s)) for s in at_s]
    marks = _marks(found, frames, wide)
    marks += [(column_of(one.at_frame, frames, wide), "lost?") for one in variant.dropouts]
    pieces = line(thinned(ticks, wide), marked(marks, wide), wide)
    shown = [(words, BAD if is_mark else FAINT) for words, is_mark in pieces]
    return text(" " * (GUTTER + 1), *shown)


def _marks(found: list[Alignment], frames: int, wide: int) -> list[tuple[int, str]]:
    """Return what the strongest proof saw that saw anything: it knows best where it is.

    Slips in one column, as those that undo each other, have one mark.
    """
    seen = next((one for one in found if one.slips or one.disturbances), None)
    if seen is None:
        return []
    words: dict[int, str] = {}
    for slip in seen.slips:
        column = column_of(slip.at_frame, frames, wide)
        words[column] = f"{words[column]} {_frames(slip)}" if column in words else _frames(slip)
    for one in seen.disturbances:
        words.setdefault(column_of(one.at_frame, frames, wide), "disturbed")
    return list(words.items())


def _frames(one: Slip) -> str:
    return with_sign(one.frames)


def _lane(name: str, one: Alignment, variant: Variant, wide: int, rows: int) -> list[Text]:
    if not _drawable(one):
        why = one.reason or "no place along the pass was measured"
        lines = paragraph(f"nothing drawn: {why}", wide, FAINT, indent=0)
        names = [name, *[""] * (len(lines) - 1)]
        return [_gutter(word, "") + row for word, row in zip(names, lines, strict=True)]
    start = one.delay_frames or 0.0
    scale = scale_of(place.delay_frames - start for place in one.places)
    heights = [(place.delay_frames - start) / scale for place in one.places]
    at = [column_of(place.at_frame, _played(variant), wide) for place in one.places]
    cells = _points(list(zip(at, heights, strict=True)), wide, rows)
    broken = [*(s.at_frame for s in one.slips), *(d.at_frame for d in one.disturbances)]
    crossed = {column_of(frame, _played(variant), wide) for frame in broken}
    edge = _short(scale)
    edges = {0: f"+{edge}", rows // 2: "0", rows - 1: f"\N{MINUS SIGN}{edge}"}
    return [
        _gutter(name if y == rows // 2 else "", edges.get(y, ""))
        + _row(cells[y], y == rows // 2, crossed)
        for y in range(rows)
    ]


def _short(scale: int) -> str:
    """Return whole frames in four characters: thousands and millions have a letter."""
    if scale >= 10**6:
        return f"{scale // 10**6}M"
    return f"{scale // 1000}k" if scale >= 10**4 else f"{scale}"


def _gutter(name: str, edge: str) -> Text:
    return text(" ", (cut(name, _NAME), STRONG), (f"{edge:>{GUTTER - _NAME - 1}} ", FAINT))


def _points(points: list[tuple[int, float]], wide: int, rows: int) -> list[list[set[int]]]:
    """Return which levels of each cell have a place; heights are −1 to 1, 1 at the top."""
    cells: list[list[set[int]]] = [[set() for _ in range(wide)] for _ in range(rows)]
    last = rows * _LEVELS - 1
    for x, height in points:
        y, level = divmod(round((1.0 - height) / 2 * last), _LEVELS)
        cells[y][x].add(level)
    return cells


def _row(cells: list[set[int]], is_zero: bool, crossed: set[int]) -> Text:
    drawn = (
        _glyph(levels, is_zero=is_zero, is_crossed=x in crossed) for x, levels in enumerate(cells)
    )
    runs = groupby(drawn, key=lambda cell: cell[1])
    return text(*(("".join(glyph for glyph, _ in run), look) for look, run in runs))


def _glyph(levels: set[int], *, is_zero: bool, is_crossed: bool) -> tuple[str, Style]:
    if levels:
        return (SEVERAL if len(levels) > 1 else (UPPER, MIDDLE, LOWER)[min(levels)]), PLAIN
    if is_crossed:
        return SLIP, ACCENT
    return (ZERO if is_zero else " "), FAINT
