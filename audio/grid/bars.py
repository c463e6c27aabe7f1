"""Where the bars of a song lie in a DI: exact fractions of a frame, rounded once, at the end.

Rounding each beat and adding up would drift by half a frame a beat. Pure: no files, no arrays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audio.vocab.session_file import Song

COMMON_METRE = "4/4"
"""Where the tempo is given and no metre is (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class BarGrid:
    """The bars of a song with one tempo, on the frames of one DI; bar 1 may lie before its first frame.

    Beats are counted through: 0 is the first beat of bar 1. What comes before bar 1 is bar 0, then −1.
    """

    beats: int
    """Of a bar."""
    beat_frames: Fraction
    start: Fraction
    """Frame of beat 0."""

    @property
    def bar_frames(self) -> Fraction:
        """Length of a bar."""
        return self.beats * self.beat_frames

    def frame(self, bar: int) -> int:
        """Return the frame nearest to the line at which a bar (from 1) begins; may lie outside the DI."""
        return self.frame_of_beat((bar - 1) * self.beats)

    def frame_of_beat(self, beat: int) -> int:
        """Return the frame nearest to a beat; may lie outside the DI."""
        return round(self.start + beat * self.beat_frames)

    def bar_at(self, frame: int) -> int:
        """Return the last bar whose line lies at or before a frame; 0 and less before bar 1."""
        return self.named(self.beat_at(frame))[0]

    def beat_at(self, frame: int) -> int:
        """Return the last beat at or before a frame."""
        beat = math.floor((frame - self.start) / self.beat_frames)
        return beat + 1 if self.frame_of_beat(beat + 1) <= frame else beat  # it may be rounded down

    def named(self, beat: int) -> tuple[int, int]:
        """Return bar and beat as a player counts them, the bar's first beat being 1."""
        return beat // self.beats + 1, beat % self.beats + 1


def bar_grid(song: Song, *, time_reference: int, rate: int) -> BarGrid | None:
    """Return where a song's bars lie in a DI.

    Parameters
    ----------
    song
        Its tempo counts quarter notes a minute, whatever the metre; ``6/8`` has six beats of half a
        quarter. Numbers count as they are written: 96.1 is 961/10.
    time_reference
        Frame of the recorder's timeline at the DI's first frame, its time stamp.
    rate
        Frames a second.

    Returns
    -------
    BarGrid | None
        Bar 1 where the song says it begins on the recorder's timeline, at the DI's first frame where it
        does not say; None where there is no tempo.
    """
    if song.bpm is None:
        return None
    beats, note = (int(number) for number in (song.metre or COMMON_METRE).split("/"))
    quarter = 60 * rate / Fraction(str(song.bpm))
    start = Fraction(0)
    if song.song_start_s is not None:
        start = Fraction(str(song.song_start_s)) * rate - time_reference
    return BarGrid(beats=beats, beat_frames=quarter * 4 / note, start=start)
