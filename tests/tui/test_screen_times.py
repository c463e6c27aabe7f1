"""The note values of a song's tempo, from the chain stage."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import cast

import pytest
from invented import Names, all_called, session
from msgspec.structs import replace
from puppet import Puppet
from screens import Seat, assert_fits, play, seated
from shown import HOSTILE

from audio.jobs import news
from audio.jobs.runner import Runner
from audio.jobs.times import times
from tui.present.times import WIDTH, times_lines


async def at_the_chain(seat: Seat, names: Names, *, bpm: float | None) -> None:
    """Open a session whose song has that tempo, and walk to the chain."""
    told = session(names)
    assert isinstance(told, news.Snapshot)
    songs = tuple(replace(song, bpm=bpm) for song in told.file.songs)
    await seat.told(replace(told, file=replace(told.file, songs=songs)), news.Ready())
    await seat.walk_to("chain")


def seat_at(folder: Path, flow: Callable[[Seat], Awaitable[None]]) -> None:
    bring = lambda: cast("Runner", Puppet(folder))  # noqa: E731 - one line says it

    async def whole() -> None:
        async with seated(folder, bring=bring, ready=False) as seat:
            await flow(seat)

    play(whole())


def test_the_table_of_the_songs_tempo_comes_and_goes_by_one_key(tmp_path: Path) -> None:
    async def flow(seat: Seat) -> None:
        await at_the_chain(seat, Names(), bpm=108.0)
        await seat.press("8")
        # 60 000 / 108 is 555.6 ms a quarter, 3/4 of it a dotted eighth (common practice, no source)
        await seat.sees("last ferry: 108 quarter notes a minute", "dotted", "Hz", "555.6", "416.7")
        assert_fits(seat.desk)
        await seat.resize(60, 16)
        shown = await seat.sees("416.7")
        assert "Hz" not in shown
        assert_fits(seat.desk)
        await seat.press("8")
        await seat.sees("▸chain")

    seat_at(tmp_path, flow)


def test_a_song_without_a_tempo_says_where_to_write_one(tmp_path: Path) -> None:
    async def flow(seat: Seat) -> None:
        await at_the_chain(seat, Names(), bpm=None)
        await seat.press("8")
        await seat.sees("last ferry has no tempo; write bpm: under it in session.yaml.")
        await seat.press("escape")
        await seat.sees("▸chain")

    seat_at(tmp_path, flow)


def test_a_songs_hostile_name_stays_a_name(tmp_path: Path) -> None:
    async def flow(seat: Seat) -> None:
        for name in HOSTILE:
            await at_the_chain(seat, all_called(name), bpm=108.0)
            await seat.press("8")
            assert "\x1b" not in seat.words
            assert_fits(seat.desk)
            await seat.press("escape")

    seat_at(tmp_path, flow)


@pytest.mark.parametrize("bpm", [20.0, 108.0, 400.0])
@pytest.mark.parametrize("columns", [49, WIDTH - 1, WIDTH, 118])
def test_the_table_keeps_its_width_at_every_tempo(bpm: float, columns: int) -> None:
    lines = times_lines(times(bpm), columns=columns)
    assert len(lines) == 2 + 6
    assert {len(line) for line in lines} == {WIDTH if columns >= WIDTH else 49}
