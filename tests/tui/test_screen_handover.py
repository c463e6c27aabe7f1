"""Hand over from the screen: what would go, what is ordered, how far it is, what became of it."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import cast, get_args

import pytest
from handed import evening as evening_on_disk
from handed import keep, left
from invented import Names, evening, variant
from msgspec.structs import replace
from puppet import Puppet
from screens import Seat, play, seated
from shown import HOSTILE, SIZES

from audio.jobs import news
from audio.jobs.orders import HandOver
from audio.jobs.runner import Runner
from audio.vocab.balance import Balance
from audio.vocab.handover import HandedOver, HandoverAsked, HandoverNow
from audio.vocab.opinion import Keeper, Opinion
from tui.model import Word
from tui.present.carded import WORDS

NAMES = Names()


@asynccontextmanager
async def at_handing_over(
    puppet: Puppet, *, kept: int = 2, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[Seat]:
    async with seated(
        puppet.folder, bring=lambda: cast("Runner", puppet), ready=False, size=size
    ) as seat:
        told = evening(NAMES, variant(NAMES, 1), variant(NAMES, 2))
        said = tuple(
            Opinion(part=NAMES.part, number=one + 1, keeper=Keeper(reason="", balance=Balance()))
            for one in range(kept)
        )
        await seat.told(*(_with(one, said) for one in told))
        await seat.walk_to("variants")
        await seat.press("at")
        yield seat


def _with(one: news.News, said: tuple[Opinion, ...]) -> news.News:
    return replace(one, opinions=said) if isinstance(one, news.Snapshot) else one


def ordered(puppet: Puppet) -> list[HandOver]:
    return [one for one in puppet.orders if isinstance(one, HandOver)]


def going(files: int, doing: str = "files/last-ferry/a.wav") -> news.HandingOver:
    now = HandoverNow(
        doing=doing, files=files, of_files=4, size=files * 1_000_000, of_size=4_000_000
    )
    return news.HandingOver(now=now)


def handed(**changes: object) -> news.HandOverDone:
    done = HandedOver(
        name="harbour-lights-001",
        folder="/nights/harbour-lights/handover/harbour-lights-001",
        token="abcdefgh",  # noqa: S106 - no secret, a name
        sounds=2,
        files=4,
        size=4_300_000,
        resumed=False,
    )
    return news.HandOverDone(done=replace(done, **changes))


def test_the_stage_says_how_many_keepers_there_are_and_which_key_hands_them_over(
    tmp_path: Path,
) -> None:
    async def flow() -> None:
        async with at_handing_over(Puppet(tmp_path)) as seat:
            await seat.sees("HAND OVER", "2 keepers", "enter hand over")
            await seat.press("escape")
            await seat.sees("2 keepers in the session; @ hands them over")

    play(flow())


def test_two_keys_hand_the_keepers_over_and_the_order_says_the_usual(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_handing_over(puppet) as seat:
            await seat.press("enter")
            assert ordered(puppet) == [HandOver(asked=HandoverAsked())]
            await seat.press("enter")  # it goes on: nothing is ordered twice
            assert len(ordered(puppet)) == 1

    play(flow())


def test_rows_are_changed_by_arrows_and_typed_where_they_have_no_steps(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_handing_over(puppet) as seat:
            await seat.press("right")
            await seat.sees("everything in sight")
            await seat.press("down", "right")
            await seat.sees("all at the song's bar 1")
            await seat.press("down", "right", "down", "right", "down", "left")
            await seat.sees("backing tracks, DIs, originals")
            await seat.press("down", "right", "down", "right", "down", "n")
            await seat.sees("How files are named")
            await seat.press("end")
            await seat.type("{x}")
            await seat.press("enter")
            await seat.sees("names {x}, which is nothing")
            await seat.press("backspace", "backspace", "backspace", "enter", "down", "n")
            await seat.type("/media/stick/out")
            await seat.press("enter")
            await seat.sees("/media/stick/out")
            await seat.press("enter")
            wanted = HandoverAsked(
                everything=True,
                start="song",
                flac=True,
                blends=True,
                also=("backing", "di", "originals"),
                sheet=False,
                page=False,
            )
            assert ordered(puppet) == [HandOver(asked=wanted, out="/media/stick/out")]

    play(flow())


def test_it_shows_how_far_it_is_stops_and_tells_what_became_of_it(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with at_handing_over(puppet) as seat:
            await seat.press("enter")
            await seat.told(going(1))
            await seat.sees("1 of 4 files, 1.0 MB of 4.0 MB", "files/last-ferry/a.wav", "s stop")
            await seat.press("right", "escape", "at")  # nothing changes, nobody leaves meanwhile
            await seat.sees("1 of 4 files")
            await seat.press("s")
            assert puppet.stops == 1
            await seat.told(news.HandOverDone(), news.Idle())
            await seat.sees("stopped; what is whole stays, and the same again goes on")
            await seat.press("enter")
            await seat.told(handed(resumed=True), news.Idle())
            await seat.sees(
                "handed over, gone on with", "2 sounds in 4 files, 4.3 MB", "harbour-lights-001"
            )
            await seat.told(handed(left_out=("room.wav is not there any more",)))
            await seat.sees("left out: room.wav is not there any more")

    play(flow())


def test_what_cannot_be_handed_over_is_told_until_it_was_read(tmp_path: Path) -> None:
    async def flow() -> None:
        async with at_handing_over(Puppet(tmp_path), kept=0) as seat:
            await seat.sees("0 keepers")
            await seat.press("enter")
            await seat.told(news.Trouble(text="no variant was kept yet; keep one"), news.Idle())
            await seat.sees("no variant was kept yet", "esc puts this away")
            await seat.press("escape")
            await seat.sees("HAND OVER")

    play(flow())


@pytest.mark.parametrize(
    "size", [SIZES[0], *(pytest.param(one, marks=pytest.mark.slow) for one in SIZES[1:])]
)
def test_it_fits_whatever_files_are_called(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow() -> None:
        async with at_handing_over(Puppet(tmp_path), size=size) as seat:
            await seat.fits_everywhere()
            for name in HOSTILE:
                await seat.told(going(2, name))
                await seat.fits_everywhere()
                await seat.told(handed(folder=name, left_out=(name,)))
                await seat.fits_everywhere()

    play(flow())


def test_every_word_has_one_for_the_card() -> None:
    assert set(WORDS) == set(get_args(Word))


@pytest.mark.slow
def test_the_keepers_of_a_session_on_disk_are_handed_over(tmp_path: Path) -> None:
    session = evening_on_disk(tmp_path)
    keep(session, left(session))

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.walk_to("variants")
            await seat.press("at")
            for _ in range(5):
                await seat.press("down")
            await seat.press("right", "down", "right", "enter")
            await seat.sees("handed over", "1 sound in 2 files")

    play(flow())
    assert (session.folder / "handover" / "harbour-lights-001" / "SHA256SUMS").exists()
