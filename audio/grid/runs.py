"""A tempo map cut into stretches whose beats are alike, and into runs of bars that have as many beats.

A change of metre always begins a bar. Where it does not lie on a bar line of the metre before, that bar is
cut short there; where it does not even lie on a beat, its last beat is (common practice, no source: the
Standard MIDI File leaves it open).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from audio.vocab.tempo import MetreChange, TempoMap


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a song in which every beat is as long as the others."""

    beat: Fraction
    """Where it begins, beats from bar 1; a tempo may change between two beats."""
    frame: Fraction
    """The same, frames of the DI."""
    beat_frames: Fraction
    beats: int
    """Of a bar there."""
    bpm: float
    """Quarter notes a minute."""


@dataclass(frozen=True, slots=True)
class Run:
    """Bars of the same metre; the last one may be cut short by the next run."""

    bar: int
    """The first of them."""
    beat: int
    """Its first beat."""
    beats: int
    """Of a bar."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a song in which a beat has as many quarter notes."""

    at: Fraction
    """Quarter notes from bar 1."""
    beat: int
    quarters: Fraction
    """Of a beat."""
    beats: int
    """Of a bar."""


def runs_of(tempo: TempoMap) -> tuple[tuple[Run, ...], tuple[Piece, ...]]:
    """Return the bars of a map, and what a beat is in them."""
    runs, pieces, bar, beat = [], [], 1, 0
    for one, end in _with_ends(tempo.metres):
        metre = one.metre
        runs.append(Run(bar, beat, metre.beats))
        pieces.append(Piece(one.at, beat, metre.quarters, metre.beats))
        if end is None:
            break
        exact = (end - one.at) / metre.quarters
        whole, counted = math.floor(exact), math.ceil(exact)
        if counted > whole:
            rest = one.at + whole * metre.quarters
            cut = Piece(rest, beat + whole, end - rest, metre.beats)
            pieces[-1:] = [cut] if whole == 0 else [pieces[-1], cut]
        beat += counted
        bar += math.ceil(Fraction(counted, metre.beats))
    return tuple(runs), tuple(pieces)


def _with_ends(metres: tuple[MetreChange, ...]) -> Iterator[tuple[MetreChange, Fraction | None]]:
    for one, after in pairwise(metres):
        yield one, after.at
    yield metres[-1], None


def stretches_of(
    tempo: TempoMap, pieces: tuple[Piece, ...], *, start: Fraction, rate: int
) -> tuple[Stretch, ...]:
    """Return the stretches of a map on frames.

    Parameters
    ----------
    tempo
        Of the song.
    pieces
        Of the same map, from `runs_of`.
    start
        Frame of beat 0; may be negative.
    rate
        Frames a second.

    Returns
    -------
    tuple of Stretch
        In order, from beat 0 on. Their frames are sums of exact fractions.
    """
    places = sorted({one.at for one in tempo.tempos} | {one.at for one in pieces})
    found, at_piece, at_tempo, frame = [], 0, 0, start
    for i, at in enumerate(places):
        at_piece += at_piece + 1 < len(pieces) and pieces[at_piece + 1].at <= at
        at_tempo += at_tempo + 1 < len(tempo.tempos) and tempo.tempos[at_tempo + 1].at <= at
        piece, change = pieces[at_piece], tempo.tempos[at_tempo]
        quarter = change.quarter_s * rate
        beat = piece.beat + (at - piece.at) / piece.quarters
        found.append(Stretch(beat, frame, piece.quarters * quarter, piece.beats, change.bpm))
        if i + 1 < len(places):
            frame += (places[i + 1] - at) * quarter
    return tuple(found)
