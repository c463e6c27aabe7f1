"""Where all files of a song begin when they are to lie side by side."""

from __future__ import annotations

import pytest

from audio.jobs.handing.starts import begun_together, without_stamp
from audio.vocab.errors import UseError
from audio.vocab.handover import Piece, Source
from audio.vocab.session_file import Song

RATE = 48_000
HOUR = 3600 * RATE


def piece(at: int, *, rate: int = RATE) -> Piece:
    return Piece(
        path="",
        kind="microphone",
        song="last ferry",
        sources=(Source(file="a.wav", at_frame=at),),
        copied=True,
        sample_rate=rate,
        depth=24,
        time_reference=at,
        frames=10,
    )


def song(start_s: float | None) -> Song:
    return Song(name="last ferry", song_start_s=start_s)


def test_bar_1_is_where_they_begin() -> None:
    start = begun_together(song(3598.0), [piece(HOUR), piece(HOUR + 5)])
    assert (start.at_s, start.before_bar_1_s) == (3598.0, 0.0)


def test_a_stamp_of_one_o_clock_with_bar_1_there_makes_no_silence() -> None:
    assert begun_together(song(3600.0), [piece(HOUR)]).at_s * RATE == HOUR


def test_nothing_that_was_recorded_before_bar_1_is_cut_off() -> None:
    start = begun_together(song(3600.0), [piece(HOUR), piece(HOUR - 2 * RATE)])
    assert (start.at_s, start.before_bar_1_s) == (3598.0, 2.0)


def test_without_a_bar_1_the_first_file_begins_and_nothing_is_claimed_of_it() -> None:
    start = begun_together(song(None), [piece(HOUR + 7), piece(HOUR)])
    assert (start.at_s, start.before_bar_1_s) == (3600.0, None)


def test_files_of_two_rates_begin_at_one_time() -> None:
    start = begun_together(song(None), [piece(HOUR), piece(44_100 * 3599, rate=44_100)])
    assert start.at_s == 3599.0


def test_an_hour_of_silence_is_refused_with_the_way_out() -> None:
    with pytest.raises(
        UseError, match=r"bar 1 lies at 0:00 .* first file at 60:00; set song_start_s"
    ):
        begun_together(song(0.0), [piece(HOUR)])


def test_a_file_without_a_stamp_has_no_place_beside_others_an_hour_later() -> None:
    bare, stamped = piece(0), piece(HOUR)
    assert without_stamp([stamped, bare]) == [bare]
    assert without_stamp([bare, piece(RATE)]) == []  # the recorder began at 0
    assert without_stamp([bare, bare]) == []
