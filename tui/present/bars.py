"""Where bars and beats lie in a DI, and which of them a view has room for.

Positions are exact fractions of a frame, rounded once, at the end: rounding each beat would drift.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from audio.jobs.sections import bar_grid
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


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars and beats on the frames of one DI; bar 1 may lie before its first frame or after its last.

    Beats are counted through: 0 is the first beat of bar 1. What comes before bar 1 is bar 0, then −1.
    """

    frames: int
    """Of the DI."""
    rate: int
    """Frames a second."""
    beats: int
    """Of a bar."""
    beat_frames: Fraction
    start: Fraction
    """Frame of beat 0."""

    def frame(self, beat: int) -> int:
        """Return the frame nearest to a beat; may lie outside the DI."""
        return round(self.start + beat * self.beat_frames)

    def beat_at(self, frame: int) -> int:
        """Return the last beat at or before a frame."""
        beat = math.floor((frame - self.start) / self.beat_frames)
        return beat + 1 if self.frame(beat + 1) <= frame else beat  # one may be rounded down to it

    def named(self, beat: int) -> tuple[int, int]:
        """Return bar and beat as a player counts them, the bar's first beat being 1."""
        return beat // self.beats + 1, beat % self.beats + 1

    def lines(self, look: Look) -> list[Line]:
        """Return the lines that have room in a view, in order; the same bars wherever it is scrolled."""
        every, labelled = self._every(look, LINE_COLUMNS), self._labelled(look)
        found = []
        for beat in self._between(look, every):
            bar, number = self.named(beat)
            x = look.place(self.frame(beat))
            if x is not None:
                label = f"{bar}" if number == 1 else f"{bar}.{number}"
                found.append(Line(x, number == 1, "" if beat % labelled else label))
        return found

    def _labelled(self, look: Look) -> int:
        """Return how many beats apart labels stand: as the longest of the whole DI has room."""
        ends = (self.named(self.beat_at(frame))[0] for frame in (0, look.frames))
        longest = 1 + max(len(f"{bar}") for bar in ends)
        if self._every(look, longest + len(f".{self.beats}") + LABEL_GAP) == 1:
            return 1
        return max(self._every(look, longest + LABEL_GAP), self.beats)

    def _every(self, look: Look, least_columns: int) -> int:
        """Return how many beats apart lines stand that are so many columns apart at least."""
        beat_columns = float(self.beat_frames) / look.scale
        if beat_columns >= least_columns:
            return 1
        every = self.beats
        while every * beat_columns < least_columns:
            every *= 2
        return every

    def _between(self, look: Look, every: int) -> Iterator[int]:
        first = self.beat_at(int(look.first))
        return iter(range(first - first % every, self.beat_at(look.end) + 1, every))


def bars_of(song: Song, *, time_reference: int, frames: int, rate: int) -> Bars | None:
    """Return where a song's bars lie in a DI.

    Parameters
    ----------
    song
        Its tempo counts quarter notes a minute, whatever the metre; ``6/8`` has six beats of half a
        quarter. Numbers count as they are written: 96.1 is 961/10.
    time_reference
        Frame of the recorder's timeline at the DI's first frame, its time stamp.
    frames
        Of the DI.
    rate
        Frames a second.

    Returns
    -------
    Bars | None
        Bar 1 where the song says it begins on the recorder's timeline, at the DI's first frame where it
        does not say; None where there is no tempo.
    """
    grid = bar_grid(song, time_reference=time_reference, rate=rate)
    if grid is None:
        return None
    return Bars(
        frames=frames,
        rate=rate,
        beats=grid.beats,
        beat_frames=grid.beat_frames,
        start=grid.start,
    )


def bar_ticks(
    song: Song, *, time_reference: int, frames: int, rate: int
) -> tuple[tuple[float, str], ...]:
    """Return the bars that begin in a DI, seconds from its first frame and number.

    Parameters
    ----------
    song
        As for `bars_of`.
    time_reference
        As there.
    frames
        As there.
    rate
        As there.

    Returns
    -------
    tuple of (float, str)
        In order, every bar, or every second, fourth … from bar 1 where they are more than `MOST_TICKS`;
        none where there is no tempo.
    """
    bars = bars_of(song, time_reference=time_reference, frames=frames, rate=rate)
    if bars is None:
        return ()
    every = bars.beats
    while frames / float(bars.beat_frames * every) > MOST_TICKS:
        every *= 2
    first = -(-bars.beat_at(0) // every) * every
    begins = (
        (bars.frame(beat), beat) for beat in range(first, bars.beat_at(frames - 1) + 1, every)
    )
    return tuple((at / rate, f"{bars.named(beat)[0]}") for at, beat in begins if at >= 0)
