"""Where the bars of a song lie in a DI: exact fractions of a frame, rounded once, at the end.

Rounding each beat and adding up would drift by half a frame a beat. Pure: no files, no arrays.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from operator import attrgetter
from typing import TYPE_CHECKING

from audio.grid.runs import Run, Stretch, runs_of, stretches_of
from audio.vocab.tempo import TempoMap, steady

if TYPE_CHECKING:
    from audio.vocab.session_file import Song


@dataclass(frozen=True, slots=True)
class BarGrid:
    """The bars of a song on the frames of one DI; bar 1 may lie before its first frame.

    Beats are counted through, whatever the metre does: 0 is the first beat of bar 1. What comes before
    bar 1 is bar 0, then −1, in the first metre and at the first tempo. A lookup is two bisections.
    """

    stretches: tuple[Stretch, ...]
    """In order, the first from beat 0: in each every beat is as long as the others."""
    runs: tuple[Run, ...]
    """In order, the first from bar 1: in each every bar has as many beats, but a last one cut short."""
    _from_beats: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _from_frames: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _run_beats: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _run_bars: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _lengths: tuple[tuple[float, float, float], ...] = field(init=False, repr=False, compare=False)
    """Of each stretch: where it begins, a beat of it, a bar of it, frames; for the eye."""

    def __post_init__(self) -> None:
        """Note what is looked up: whole numbers, which compare quicker than fractions."""
        keys: dict[str, tuple[object, ...]] = {
            # a whole number lies at or behind a fraction where it does so of the next whole number
            "_from_beats": tuple(math.ceil(one.beat) for one in self.stretches),
            "_from_frames": tuple(math.ceil(one.frame) for one in self.stretches),
            "_run_beats": tuple(one.beat for one in self.runs),
            "_run_bars": tuple(one.bar for one in self.runs),
            "_lengths": tuple(
                (float(one.frame), float(one.beat_frames), float(one.beats * one.beat_frames))
                for one in self.stretches
            ),
        }
        for name, value in keys.items():
            object.__setattr__(self, name, value)

    # ------------------------------------------------------------ beats and frames

    def exact(self, beat: Fraction | int) -> Fraction:
        """Return the frame at which a beat lies, or a place between two beats; may lie outside the DI."""
        one = self._stretch_of(beat)
        return one.frame + (beat - one.beat) * one.beat_frames

    def position(self, frame: float | Fraction) -> Fraction:
        """Return the beats from beat 0 to a frame, or to a place between two frames: `exact`'s inverse."""
        one = self._stretch_at(frame)
        return one.beat + (Fraction(frame) - one.frame) / one.beat_frames

    def frame_of_beat(self, beat: int) -> int:
        """Return the frame nearest to a beat; may lie outside the DI."""
        return round(self.exact(beat))

    def beat_at(self, frame: int) -> int:
        """Return the last beat at or before a frame."""
        beat = math.floor(self.position(frame))
        return beat + 1 if self.frame_of_beat(beat + 1) <= frame else beat  # it may be rounded down

    def beat_frames_at(self, beat: Fraction | int) -> Fraction:
        """Return how many frames a beat lasts at a beat, or at a place between two."""
        return self._stretch_of(beat).beat_frames

    def bpm_at(self, frame: float | Fraction) -> float:
        """Return the tempo at a frame, quarter notes a minute."""
        return self._stretch_at(frame).bpm

    # ------------------------------------------------------------ bars

    def frame(self, bar: int) -> int:
        """Return the frame nearest to the line at which a bar (from 1) begins; may lie outside the DI."""
        return self.frame_of_beat(self.first_beat_of(bar))

    def bar_at(self, frame: int) -> int:
        """Return the last bar whose line lies at or before a frame; 0 and less before bar 1."""
        return self.named(self.beat_at(frame))[0]

    def named(self, beat: int) -> tuple[int, int]:
        """Return bar and beat as a player counts them, the bar's first beat being 1."""
        run = self.runs[max(bisect_right(self._run_beats, beat) - 1, 0)]
        bars, rest = divmod(beat - run.beat, run.beats)
        return run.bar + bars, rest + 1

    def first_beat_of(self, bar: int) -> int:
        """Return the beat with which a bar begins."""
        run = self.runs[max(bisect_right(self._run_bars, bar) - 1, 0)]
        return run.beat + (bar - run.bar) * run.beats

    def beats_in(self, bar: int) -> int:
        """Return how many beats a bar has; one that is cut short by a change of metre has fewer."""
        return self.first_beat_of(bar + 1) - self.first_beat_of(bar)

    # ------------------------------------------------------------ stretches

    def usual_lengths(self, frames: int, *, but: float) -> tuple[float, float]:
        """Return how long beats and bars are at least, in nearly all of a DI.

        Parameters
        ----------
        frames
            Of the DI, 1 or more.
        but
            Share of the DI that may have shorter ones, 0 to 1.

        Returns
        -------
        tuple of float
            Of a beat and of a bar, frames; for drawing, where no exact fraction is needed.
        """
        first, last = self._there(frames)
        there = self._lengths[first:last]
        edges = [0.0, *(one[0] for one in there[1:]), float(frames)]
        spans = [end - start for start, end in pairwise(edges)]
        beats, bars = ([one[which] for one in there] for which in (1, 2))
        return _least(beats, spans, but * frames), _least(bars, spans, but * frames)

    def most_beats(self, frames: int) -> int:
        """Return how many beats the longest bar of a DI's first so many frames has."""
        first, last = self._there(frames)
        return max(one.beats for one in self.stretches[first:last])

    def _there(self, frames: int) -> tuple[int, int]:
        """Return the first of the stretches in a DI, and the one behind the last."""
        first = max(bisect_right(self._from_frames, 0) - 1, 0)
        return first, max(bisect_right(self._from_frames, frames - 1), first + 1)

    def _stretch_of(self, beat: Fraction | int) -> Stretch:
        if isinstance(beat, int):
            at = bisect_right(self._from_beats, beat)
        else:
            at = bisect_right(self.stretches, beat, key=attrgetter("beat"))
        return self.stretches[max(at - 1, 0)]

    def _stretch_at(self, frame: float | Fraction) -> Stretch:
        if isinstance(frame, int):
            at = bisect_right(self._from_frames, frame)
        else:
            at = bisect_right(self.stretches, frame, key=attrgetter("frame"))
        return self.stretches[max(at - 1, 0)]


def _least(lengths: list[float], spans: list[float], left: float) -> float:
    """Return the least of some lengths, of which the shorter ones may span so much."""
    for length, span in sorted(zip(lengths, spans, strict=True)):
        left -= span
        if left <= 0:
            return length
    return max(lengths)


def bar_grid(
    song: Song, *, tempo: TempoMap | None = None, time_reference: int, rate: int
) -> BarGrid | None:
    """Return where a song's bars lie in a DI.

    Parameters
    ----------
    song
        Its tempo counts quarter notes a minute, whatever the metre; ``6/8`` has six beats of half a
        quarter. Numbers count as they are written: 96.1 is 961/10.
    tempo
        What its tempo file says. A song that names one has no other tempo: its ``bpm`` is not used.
    time_reference
        Frame of the recorder's timeline at the DI's first frame, its time stamp.
    rate
        Frames a second.

    Returns
    -------
    BarGrid | None
        Bar 1 where the tempo map says it begins on the recorder's timeline, else where the song says so,
        at the DI's first frame where neither does; None where there is no tempo.
    """
    if song.tempo_file is None and song.bpm is not None:
        tempo = steady(song.bpm, song.metre)
    if tempo is None:
        return None
    start_s = tempo.start_s
    if start_s is None and song.song_start_s is not None:
        start_s = Fraction(str(song.song_start_s))
    start = Fraction(0) if start_s is None else start_s * rate - time_reference
    runs, pieces = runs_of(tempo)
    return BarGrid(stretches_of(tempo, pieces, start=start, rate=rate), runs)
