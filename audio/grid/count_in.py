"""Where the beats of a count-in lie: exact fractions of a frame, each rounded once."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audio.grid.bars import BarGrid

LATE = Fraction(1, 2)
"""Music that begins up to so much of a beat behind a bar line belongs to that line: an edit is often cut
close to its first note, which may be played late (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class CountIn:
    """Bars that are counted before a bar line, on the frames of one DI."""

    bar: int
    """The bar, from 1, at whose line the count-in ends."""
    line: int
    """Frame of that line; may lie before the DI."""
    frames: tuple[int, ...]
    """The beats, in order; frames before the DI are negative."""
    accents: tuple[bool, ...]
    """Which of the beats begin a bar."""


def first_bar(grid: BarGrid, music_frame: int) -> int:
    """Return the bar, from 1, at whose line the music is counted in.

    Parameters
    ----------
    grid
        Of the song, on the DI's frames.
    music_frame
        DI frame at which the music begins; what begins before a bar line is a pickup to it.

    Returns
    -------
    int
        The bar that begins there, or no more than `LATE` of a beat before; else the next one; bar 1 for
        whatever begins before it.
    """
    bar = max(1, grid.bar_at(music_frame))
    late = music_frame - grid.frame(bar)
    return bar + 1 if late > LATE * grid.beat_frames_at(grid.first_beat_of(bar)) else bar


def count_in(grid: BarGrid, *, bars: int, music_frame: int) -> CountIn:
    """Return the beats of so many bars before the music's first bar line.

    Parameters
    ----------
    grid
        Of the song, on the DI's frames.
    bars
        How many, 1 or more.
    music_frame
        DI frame at which the music begins; see `first_bar`.

    Returns
    -------
    CountIn
        They lie where the song has them, so they fit a backing track also where tempo or metre change
        there; before bar 1 they are bar 1's. The line itself is the music's: no beat sounds there.
    """
    bar = first_bar(grid, music_frame)
    beats = range(grid.first_beat_of(bar - bars), grid.first_beat_of(bar))
    return CountIn(
        bar=bar,
        line=grid.frame(bar),
        frames=tuple(grid.frame_of_beat(beat) for beat in beats),
        accents=tuple(grid.named(beat)[1] == 1 for beat in beats),
    )
