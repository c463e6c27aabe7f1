"""A song whose tempo is in a file, on the screen: what is told of it, and why it cannot be."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from fractions import Fraction
from pathlib import Path
from typing import cast

import pytest
from invented import Names, di, session
from msgspec.structs import replace
from puppet import Puppet
from screens import Seat, assert_fits, play, seated

from audio.jobs import news
from audio.jobs.runner import Runner
from audio.vocab.session_file import Song
from audio.vocab.tempo import (
    Metre,
    MetreChange,
    SongTempo,
    TempoChange,
    TempoRead,
    steady,
    tempo_map,
)
from tui.present.tempo import bpm_words, tempo_words

FILE = "tempo/last-ferry.mid"
SLOWS = tempo_map(
    [TempoChange(Fraction(0), Fraction(1, 2)), TempoChange(Fraction(4), Fraction(631_579, 10**6))],
    [MetreChange(Fraction(0), Metre(4, 4)), MetreChange(Fraction(4), Metre(3, 4))],
)


def told(tempo: SongTempo, *, bpm: float | None = None) -> news.Snapshot:
    one = session(Names())
    songs = tuple(replace(song, bpm=bpm, tempo_file=FILE) for song in one.file.songs)
    read = (TempoRead(FILE, "4/4", tempo),)
    return replace(one, file=replace(one.file, songs=songs), tempos=read)


def seat_at(folder: Path, flow: Callable[[Seat], Awaitable[None]]) -> None:
    bring = lambda: cast("Runner", Puppet(folder))  # noqa: E731 - one line says it

    async def whole() -> None:
        async with seated(folder, bring=bring, ready=False) as seat:
            await flow(seat)

    play(whole())


def test_a_changing_tempo_is_told_with_its_range_and_key_8_says_whose_it_tells(
    tmp_path: Path,
) -> None:
    async def flow(seat: Seat) -> None:
        await seat.told(told(SongTempo(SLOWS), bpm=77.0), di(Names()), news.Ready())
        await seat.walk_to("DI")
        assert "77 bpm" not in await seat.sees("95 to 120 bpm 4/4 3/4")
        await seat.walk_to("chain")
        await seat.press("8")
        # Bar 1 begins 0.25 s behind the DI's first frame: 60 000 / 120 is 500 ms a quarter note
        await seat.sees(
            "last ferry: 120 quarter notes a minute", "500.0", "The tempo changes", "first bar in"
        )
        assert_fits(seat.desk)

    seat_at(tmp_path, flow)


def test_a_file_that_cannot_be_used_is_said_where_the_tempo_stood(tmp_path: Path) -> None:
    problem = f"{FILE} is cut off; copy it again"

    async def flow(seat: Seat) -> None:
        await seat.told(told(SongTempo(problem=problem)), di(Names()), news.Ready())
        await seat.walk_to("DI")
        await seat.sees(f"× {FILE} is cut off")
        assert_fits(seat.desk)
        await seat.walk_to("chain")
        await seat.press("8")
        await seat.sees(problem)

    seat_at(tmp_path, flow)


def test_a_fermata_too_slow_for_note_values_is_said(tmp_path: Path) -> None:
    slow = tempo_map([TempoChange(Fraction(0), Fraction(5))], SLOWS.metres)

    async def flow(seat: Seat) -> None:
        await seat.told(told(SongTempo(slow)), di(Names()), news.Ready())
        await seat.walk_to("chain")
        await seat.press("8")
        await seat.sees("tempo of 12 is out of range")

    seat_at(tmp_path, flow)


@pytest.mark.parametrize(
    ("song", "tempo", "words"),
    [
        (Song(name="a", bpm=96.5, metre="6/8"), SongTempo(steady(96.5, "6/8")), "96.5 bpm 6/8"),
        (Song(name="a", bpm=96.0), SongTempo(steady(96, None)), "96 bpm"),
        (Song(name="a"), SongTempo(), ""),
        (Song(name="a", bpm=96.0, tempo_file="b"), SongTempo(problem="no"), ""),
        (Song(name="a", tempo_file="b"), SongTempo(steady(97.3, "3/4")), "97.3 bpm 3/4"),
    ],
)
def test_tempo_and_metre_in_words(song: Song, tempo: SongTempo, words: str) -> None:
    assert tempo_words(song, tempo) == words


def test_many_metres_are_not_all_told() -> None:
    many = [MetreChange(Fraction(12 * k), Metre(k + 2, 4)) for k in range(5)]
    tempo = SongTempo(tempo_map(SLOWS.tempos, many))
    assert tempo_words(Song(name="a", tempo_file="b"), tempo) == "95 to 120 bpm 2/4 3/4 …"
    assert bpm_words(60e6 / 631_579) == "95"
