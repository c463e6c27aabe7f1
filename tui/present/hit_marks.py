"""Hits under a waveform: where each is, where it should be, and the way between the two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from tui.present.wave_view import Look

Kind = Literal["free", "hit", "stray", "should", "way", "fault"]
Cell = tuple[str, Kind]

HIT = "▲"
STRAY = "△"
SHOULD = "╵"
ON = "◆"
"""Hit and place share a column."""
WAY = "─"
FAULT = "×"
"""A finding that will be heard, or may be."""

_FREE: Cell = (" ", "free")


@dataclass(frozen=True, slots=True)
class Mark:
    """One hit, in frames of the file that is shown."""

    frame: float
    should: float | None = None
    """Where it should be; None where there is no grid, or nothing answers it."""
    counts: bool = True
    """It is no stray."""
    fault: bool = False
    """It is no hit but a finding."""


def marks_row(marks: Sequence[Mark], look: Look) -> list[Cell]:
    """Return a cell for each column of a view.

    Parameters
    ----------
    marks
        In order of their frames.
    look
        The view.

    Returns
    -------
    list of (str, Kind)
        A finding hides whatever is there; a hit only a place, a place only a way.
    """
    row = [_FREE] * look.width
    for mark in marks:
        if not mark.fault:
            _draw(row, mark, look)
    for mark in marks:
        x = look.place(int(mark.frame)) if mark.fault else None
        if x is not None:
            row[x] = (FAULT, "fault")
    return row


def _draw(row: list[Cell], mark: Mark, look: Look) -> None:
    at = look.steps_to(int(mark.frame))
    to = at if mark.should is None else look.steps_to(int(mark.should))
    last = len(row) - 1
    if max(at, to) < 0 or min(at, to) > last:
        return
    for x in range(max(min(at, to) + 1, 0), min(max(at, to), last + 1)):
        _put(row, x, (WAY, "way"))
    if mark.should is not None and to != at:
        _put(row, to, (SHOULD, "should"))
    if 0 <= at <= last:
        glyph = ON if mark.should is not None and to == at else HIT if mark.counts else STRAY
        row[at] = (glyph, "hit" if mark.counts else "stray")


def _put(row: list[Cell], x: int, cell: Cell) -> None:
    """Put a cell where nothing that tells more stands."""
    if 0 <= x < len(row) and row[x][1] in ("free", "way"):
        row[x] = cell
