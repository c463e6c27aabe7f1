"""Where all files of a song begin, so that they can be put side by side at one place."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from audio.vocab.errors import UseError
from audio.vocab.handover import Piece, SongStart
from audio.vocab.session_file import Song
from audio.vocab.units import clock_time

FARTHEST_S = 900.0
"""No song plays a quarter of an hour before its first guitar: bar 1 that far ahead of every file is a
mistake, and would be so much silence in each of them."""


def without_stamp(pieces: Sequence[Piece]) -> list[Piece]:
    """Return those of a song's files that nobody can place.

    Parameters
    ----------
    pieces
        Of one song.

    Returns
    -------
    list of Piece
        Files at the recorder's midnight, where a file without a stamp reads as lying, while all others lie
        more than `FARTHEST_S` later.
    """
    rest = [one for one in pieces if one.time_reference]
    if not rest or _first(rest) <= FARTHEST_S:
        return []
    return [one for one in pieces if not one.time_reference]


def begun_together(song: Song, pieces: Sequence[Piece]) -> SongStart:
    """Return where all of some files begin.

    Parameters
    ----------
    song
        Bar 1 is where they begin, where the song has one.
    pieces
        Its files, at least one.

    Returns
    -------
    SongStart
        Bar 1; earlier where a file begins before it, because nothing that was recorded is cut off; where
        the first one begins if nobody knows bar 1.

    Raises
    ------
    UseError
        If bar 1 lies further than `FARTHEST_S` before the first file.
    """
    first = _first(pieces)
    if song.song_start_s is None:
        return SongStart(song=song.name, at_s=float(first))
    bar_1 = Fraction(song.song_start_s)
    if first - bar_1 > FARTHEST_S:
        raise UseError(
            f"{song.name}: bar 1 lies at {clock_time(song.song_start_s)} of the recorder, the first file at"
            f" {clock_time(float(first))}; set song_start_s in session.yaml right, or hand over as recorded"
        )
    at = min(first, bar_1)
    return SongStart(song=song.name, at_s=float(at), before_bar_1_s=float(bar_1 - at))


def _first(pieces: Sequence[Piece]) -> Fraction:
    """Return where the first of some files begins, seconds."""
    return min(Fraction(one.time_reference, one.sample_rate) for one in pieces)
