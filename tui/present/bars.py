"""Which bars and beats of a DI a view has room for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from audio.grid.bars import BarGrid
from tui.present.wave_view import Look

LINE_COLUMNS = 4
"""Columns between two lines at least."""

LABEL_GAP = 2
"""Cells that stay free between two labels."""

QUICK = 0.05
"""So much of a DI may be quicker than what lines are laid out for: a few quick bars do not thin out all."""

MOST_TICKS = 400
"""Bars told to a ruler that thins them out by itself: more than there are columns help nobody."""


@dataclass(frozen=True, slots=True)
class Line:
    """A bar or a beat in view."""

    column: int
    is_bar: bool
    label: str
    """``3`` for a bar, ``3.2`` for its second beat; empty where a label would crowd another."""


def lines_in(look: Look, bars: BarGrid) -> list[Line]:
    """Return the lines that have room in a view, in order; the same bars wherever it is scrolled.

    How far apart they stand follows from the whole DI, so where the tempo changes nothing comes and goes
    by scrolling; a line that stands too near to the one before, in a stretch quicker than nearly all the
    rest or behind a bar cut short, is left out.
    """
    lengths = bars.usual_lengths(look.frames, but=QUICK)
    lined, (labelled, room) = _every(look, lengths, LINE_COLUMNS), _labelled(look, bars, lengths)
    found = []
    for beat, before in _between(look, bars, lined):
        x = look.place(bars.frame_of_beat(beat))
        if x is None or not _has_room(look, bars, beat, before, LINE_COLUMNS):
            continue
        bar, number = bars.named(beat)
        label = f"{bar}" if number == 1 else f"{bar}.{number}"
        told = _is_labelled(look, bars, beat, labelled, room)
        found.append(Line(x, number == 1, label if told else ""))
    return found


def _labelled(look: Look, bars: BarGrid, lengths: tuple[float, float]) -> tuple[int, int]:
    """Return how many bars apart labels stand, 0 for every beat, and the columns from one to the next.

    The longest label of the whole DI has room.
    """
    longest = 1 + max(len(f"{bars.bar_at(frame)}") for frame in (0, look.frames))
    room = longest + len(f".{bars.most_beats(look.frames)}") + LABEL_GAP
    if _every(look, lengths, room) == 0:
        return 0, room
    room = longest + LABEL_GAP
    return max(_every(look, lengths, room), 1), room


def _is_labelled(look: Look, bars: BarGrid, beat: int, every: int, room: int) -> bool:
    bar, number = bars.named(beat)
    if every and (number > 1 or (bar - 1) % every):
        return False
    before = bars.first_beat_of(bar - every) if every else beat - 1
    return _has_room(look, bars, beat, before, room)


def _has_room(look: Look, bars: BarGrid, beat: int, before: int, columns: int) -> bool:
    """Return whether so many columns lie between two beats, before either is rounded to a frame."""
    return float(bars.exact(beat) - bars.exact(before)) / look.scale >= columns


def _every(look: Look, lengths: tuple[float, float], least_columns: int) -> int:
    """Return how many bars apart lines stand that are so many columns apart at least; 0 for every beat."""
    beat_columns, bar_columns = (length / look.scale for length in lengths)
    if beat_columns >= least_columns:
        return 0
    every = 1
    while every * bar_columns < least_columns:
        every *= 2
    return every


def _between(look: Look, bars: BarGrid, every: int) -> Iterator[tuple[int, int]]:
    """Yield the beats in view that lines are for, each with the one before that is such a beat."""
    first, last = bars.beat_at(int(look.first)), bars.beat_at(look.end)
    if not every:
        yield from ((beat, beat - 1) for beat in range(first, last + 1))
        return
    bar = bars.named(first)[0]
    for one in range(bar - (bar - 1) % every, bars.named(last)[0] + 1, every):
        yield bars.first_beat_of(one), bars.first_beat_of(one - every)


def bar_ticks(bars: BarGrid, *, frames: int, rate: int) -> tuple[tuple[float, str], ...]:
    """Return the bars that begin in a DI, seconds from its first frame and number.

    Parameters
    ----------
    bars
        Of the song, on the DI's frames.
    frames
        Of the DI.
    rate
        Frames a second.

    Returns
    -------
    tuple of (float, str)
        In order, every bar, or every second, fourth … from bar 1 where they are more than `MOST_TICKS`.
    """
    first, last = bars.bar_at(0), bars.bar_at(frames - 1)
    first += bars.frame(first) < 0
    every = 1
    while last - first > MOST_TICKS * every:
        every *= 2
    first += (1 - first) % every
    return tuple((bars.frame(bar) / rate, f"{bar}") for bar in range(first, last + 1, every))
