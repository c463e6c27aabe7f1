"""The ruler over a time axis: labels at their places, thinned until none crowds another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from rich.cells import cell_len

from tui.present.glyphs import cut
from tui.present.terminal import clean

TICK = "╷"
MARK = "▼"
GAP = 2
"""Cells that stay free between one label and the next."""

LONGEST = 24
"""Cells a label may take."""

Placed = tuple[int, str]
"""The first cell, and the words from there on."""


def thinned(ticks: Sequence[Placed], columns: int) -> list[Placed]:
    """Return every tick, every second, fourth, … of them: the first choice in which all labels have room.

    Parameters
    ----------
    ticks
        Column and label, in order of columns.
    columns
        Cells there are; what would be cut at the end is left out.

    Returns
    -------
    list of (int, str)
        Column and words, the tick's glyph in front.
    """
    worded = [(x, TICK + _short(label)) for x, label in ticks if 0 <= x < columns]
    every = 1
    while every < len(worded) and _crowded(worded[::every]):
        every *= 2
    return [one for one in worded[::every] if one[0] + cell_len(one[1]) <= columns]


def _short(label: str) -> str:
    safe = clean(label)
    return safe if cell_len(safe) <= LONGEST else cut(safe, LONGEST)


def _crowded(ticks: Sequence[Placed]) -> bool:
    return any(
        x + cell_len(words) + GAP > follower for (x, words), (follower, _) in pairwise(ticks)
    )


def marked(marks: Sequence[Placed], columns: int) -> list[Placed]:
    """Return what stands at lost places: the glyph at each, its word where it has room.

    Parameters
    ----------
    marks
        Column and word of each, in any order.
    columns
        Cells there are.

    Returns
    -------
    list of (int, str)
        In order of columns, none over another.
    """
    places = sorted({x: word for x, word in reversed(marks) if 0 <= x < columns}.items())
    ends = [*(x for x, _ in places[1:]), columns]
    return [(x, _worded(word, end - x)) for (x, word), end in zip(places, ends, strict=False)]


def _worded(word: str, room: int) -> str:
    words = MARK + _short(word)
    return words if cell_len(words) < room else MARK


def ruler(
    *,
    ticks: Sequence[tuple[float, str]],
    marks: Sequence[tuple[float, str]],
    tail_s: float,
    place: Callable[[float], int | None],
    columns: int,
) -> list[tuple[str, bool]]:
    """Return the whole ruler in pieces.

    Parameters
    ----------
    ticks
        Seconds and labels, in order.
    marks
        Seconds and words of lost places.
    tail_s
        Where the DI ends; labelled once the axis goes past it.
    place
        Gives the column of a time, None where it is not on the axis.
    columns
        Cells there are.

    Returns
    -------
    list of (str, bool)
        Words, and whether they tell a lost place; together exactly so many cells.
    """
    shown = thinned(_placed(ticks, place), columns)
    shown += thinned(_placed([(tail_s, "tail")], place), columns)
    return line(shown, marked(_placed(marks, place), columns), columns)


def _placed(
    timed: Sequence[tuple[float, str]], place: Callable[[float], int | None]
) -> list[Placed]:
    return [(x, words) for at_s, words in timed if (x := place(at_s)) is not None]


def line(ticks: Sequence[Placed], marks: Sequence[Placed], columns: int) -> list[tuple[str, bool]]:
    """Return the ruler in pieces; lost places win over labels.

    Parameters
    ----------
    ticks
        As `thinned` gives them.
    marks
        As `marked` gives them.
    columns
        Cells there are.

    Returns
    -------
    list of (str, bool)
        Words, and whether they tell a lost place; together exactly so many cells.
    """
    free = [one for one in ticks if not any(_meets(one, mark) for mark in marks)]
    pieces: list[tuple[str, bool]] = []
    at = 0
    for x, words, lost in sorted([(*t, False) for t in free] + [(*m, True) for m in marks]):
        pieces += [(" " * (x - at), False), (words, lost)]
        at = x + cell_len(words)
    return [piece for piece in [*pieces, (" " * (columns - at), False)] if piece[0]]


def _meets(one: Placed, other: Placed) -> bool:
    return one[0] < other[0] + cell_len(other[1]) + 1 and other[0] < one[0] + cell_len(one[1]) + 1
