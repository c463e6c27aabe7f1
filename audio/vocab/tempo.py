"""A song's tempo map: where tempo and metre change, in exact fractions, nothing rounded.

Places count in quarter notes from the first beat of bar 1, as a Standard MIDI File counts them; what a beat
is says the metre's lower number.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

COMMON_METRE = "4/4"
"""Where the tempo is given and no metre is (common practice, no source; the Standard MIDI File's, too)."""

QUARTER_S = (Fraction(6, 100), Fraction(2**24 - 1, 10**6))
"""Range of a quarter note's length in a tempo map, seconds: 1000 a minute, down to the slowest that a
Standard MIDI File can say, 3.58 a minute. A fermata may be slow, a slip of the hand is what lies beyond."""

LONGEST_S = 86_400
"""No map goes further than a day from bar 1."""

MOST_CHANGES = 20_000
"""Tempo changes of a map: one a beat for more than two hours at 160 a minute."""

NOTES = (1, 2, 4, 8, 16, 32, 64)
"""What a metre's lower number can be."""

MOST_BEATS = 99
"""Of a bar."""


@dataclass(frozen=True, slots=True)
class Metre:
    """How many beats a bar has, and of which note value."""

    beats: int
    """1 to `MOST_BEATS`."""
    note: int
    """One of `NOTES`: 4 is a quarter."""

    def __str__(self) -> str:
        """Return it as it is written: ``6/8``."""
        return f"{self.beats}/{self.note}"

    @property
    def quarters(self) -> Fraction:
        """Length of a beat in quarter notes."""
        return Fraction(4, self.note)


@dataclass(frozen=True, slots=True)
class TempoChange:
    """A tempo, from one place on."""

    at: Fraction
    """Quarter notes from bar 1."""
    quarter_s: Fraction
    """Length of a quarter note, seconds."""

    @property
    def bpm(self) -> float:
        """Quarter notes a minute."""
        return float(60 / self.quarter_s)


@dataclass(frozen=True, slots=True)
class MetreChange:
    """A metre, from one place on, where a bar begins."""

    at: Fraction
    """Quarter notes from bar 1."""
    metre: Metre


@dataclass(frozen=True, slots=True)
class TempoMap:
    """Tempo and metre of a whole song; made by `tempo_map` or `steady`.

    Before bar 1 the first tempo and the first metre hold, after the last change the last ones.
    """

    tempos: tuple[TempoChange, ...]
    """In order, the first at 0; neighbours differ."""
    metres: tuple[MetreChange, ...]
    """In order, the first at 0; neighbours differ."""
    start_s: Fraction | None = None
    """Where bar 1 lies on the recorder's timeline, seconds; None where only the song can say it."""

    def seconds(self, at: Fraction) -> Fraction:
        """Return the seconds from bar 1 to a place in quarter notes, summed exactly."""
        found, changes = Fraction(0), self.tempos
        for one, after in pairwise(changes):
            if after.at >= at:
                return found + (at - one.at) * one.quarter_s
            found += (after.at - one.at) * one.quarter_s
        return found + (at - changes[-1].at) * changes[-1].quarter_s

    @property
    def bpm_range(self) -> tuple[float, float]:
        """The slowest and the fastest tempo, quarter notes a minute."""
        each = [one.bpm for one in self.tempos]
        return min(each), max(each)


@dataclass(frozen=True, slots=True)
class SongTempo:
    """What is known of a song's tempo: a map, or why its file cannot be used, or neither."""

    map: TempoMap | None = None
    problem: str = ""
    """Why the tempo file cannot be used, one sentence with the way out; empty where nothing is wrong."""


@dataclass(frozen=True, slots=True)
class TempoRead:
    """What a tempo file says for songs of one metre: both decide it."""

    file: str
    """Relative to the session's folder."""
    metre: str | None
    """As the songs have it."""
    tempo: SongTempo


def tempo_map(
    tempos: Iterable[TempoChange],
    metres: Iterable[MetreChange],
    *,
    start_s: Fraction | None = None,
) -> TempoMap:
    """Return a map in good order.

    Parameters
    ----------
    tempos
        Tempo changes in any order, at 0 or later, one at least; of several at one place the last given
        holds. What holds first holds from bar 1 on.
    metres
        Metre changes, alike.
    start_s
        Where bar 1 lies on the recorder's timeline, seconds.

    Returns
    -------
    TempoMap
        Without changes that change nothing: a tempo told again where it goes on anyway, a metre told
        again in the middle of a bar.
    """
    # a dictionary keeps the first one's place and the last one's value
    fast = sorted({one.at: one.quarter_s for one in tempos}.items())
    bars = sorted({one.at: one.metre for one in metres}.items())
    kept = [TempoChange(at if i else Fraction(0), to) for i, (at, to) in enumerate(fast)
            if not i or to != fast[i - 1][1]]  # fmt: skip
    counted = [MetreChange(at if i else Fraction(0), to) for i, (at, to) in enumerate(bars)
               if not i or to != bars[i - 1][1]]  # fmt: skip
    return TempoMap(tuple(kept), tuple(counted), start_s)


def steady(bpm: float, metre: str | None) -> TempoMap:
    """Return the map of a song with one tempo.

    Parameters
    ----------
    bpm
        Quarter notes a minute, over 0; counts as it is written: 96.1 is 961/10.
    metre
        Such as ``6/8``; None is `COMMON_METRE`.

    Returns
    -------
    TempoMap
        Of one tempo and one metre.
    """
    one = TempoChange(Fraction(0), 60 / Fraction(str(bpm)))
    return tempo_map([one], [MetreChange(Fraction(0), metre_of(metre))])


def metre_of(text: str | None) -> Metre:
    """Return a metre as it is written in ``session.yaml``; None is `COMMON_METRE`."""
    beats, note = (text or COMMON_METRE).split("/")
    return Metre(int(beats), int(note))
