"""Which bars and beats of a DI a view has room for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audio.grid.bars import BarGrid, bar_grid
from tui.present.wave_view import Look

if TYPE_CHECKING:
    from audio.vocab.session_file import Song

LINE_COLUMNS = 4
"""Columns between two lines at least."""

LABEL_GAP = 2
"""Cells that stay free between two labels."""

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
    """Return the lines that have room in a view, in order; the same bars wherever it is scrolled."""
    every, labelled = _every(look, bars, LINE_COLUMNS), _labelled(look, bars)
    found = []
    for beat in _between(look, bars, every):
        bar, number = bars.named(beat)
        x = look.place(bars.frame_of_beat(beat))
        if x is not None:
            label = f"{bar}" if number == 1 else f"{bar}.{number}"
            found.append(Line(x, number == 1, "" if beat % labelled else label))
    return found


def _labelled(look: Look, bars: BarGrid) -> int:
    """Return how many beats apart labels stand: as the longest of the whole DI has room."""
    longest = 1 + max(len(f"{bars.bar_at(frame)}") for frame in (0, look.frames))
    if _every(look, bars, longest + len(f".{bars.beats}") + LABEL_GAP) == 1:
        return 1
    return max(_every(look, bars, longest + LABEL_GAP), bars.beats)


def _every(look: Look, bars: BarGrid, least_columns: int) -> int:
    """Return how many beats apart lines stand that are so many columns apart at least."""
    beat_columns = float(bars.beat_frames) / look.scale
    if beat_columns >= least_columns:
        return 1
    every = bars.beats
    while every * beat_columns < least_columns:
        every *= 2
    return every


def _between(look: Look, bars: BarGrid, every: int) -> range:
    first = bars.beat_at(int(look.first))
    return range(first - first % every, bars.beat_at(look.end) + 1, every)


def bar_ticks(
    song: Song, *, time_reference: int, frames: int, rate: int
) -> tuple[tuple[float, str], ...]:
    """Return the bars that begin in a DI, seconds from its first frame and number.

    Parameters
    ----------
    song
        As for `bar_grid`.
    time_reference
        As there.
    frames
        Of the DI.
    rate
        As there.

    Returns
    -------
    tuple of (float, str)
        In order, every bar, or every second, fourth … from bar 1 where they are more than `MOST_TICKS`;
        none where there is no tempo.
    """
    bars = bar_grid(song, time_reference=time_reference, rate=rate)
    if bars is None:
        return ()
    every = bars.beats
    while frames / float(bars.beat_frames * every) > MOST_TICKS:
        every *= 2
    first = -(-bars.beat_at(0) // every) * every
    begins = (
        (bars.frame_of_beat(beat), beat)
        for beat in range(first, bars.beat_at(frames - 1) + 1, every)
    )
    return tuple((at / rate, f"{bars.named(beat)[0]}") for at, beat in begins if at >= 0)
