"""What is different between two sounds, by keys alone: asked for one pair at a time, A and B chosen."""

from __future__ import annotations

import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import cast

import pytest
from invented import Names, evening, variant
from msgspec.structs import replace
from puppet import Puppet
from screens import Seat, assert_fits, play, seated

sys.path.append(str(Path(__file__).parents[1] / "unit"))

from differences_said import shelved, sounds

from audio.jobs import news
from audio.jobs.orders import CompareSounds
from audio.jobs.runner import Runner
from tui.screens.differ import other_than

NAMES = Names()
PART = NAMES.part

Flow = Callable[[Seat, Puppet], Awaitable[None]]


def run(folder: Path, flow: Flow, *, size: tuple[int, int] = (80, 24)) -> None:
    puppet = Puppet(folder)

    async def seated_flow() -> None:
        bring = lambda: cast("Runner", puppet)  # noqa: E731 - as short as it is
        async with seated(folder, bring=bring, ready=False, size=size) as seat:
            await seat.told(*evening(NAMES, variant(NAMES, 1), variant(NAMES, 2)))
            await seat.walk_to("variants")
            await flow(seat, puppet)

    play(seated_flow())


def asked(puppet: Puppet) -> list[tuple[str, str]]:
    return [(one.a, one.b) for one in puppet.orders if isinstance(one, CompareSounds)]


def answer(a: str, b: str) -> news.SoundsCompared:
    apart = sounds(shelved(), ("brighter by 6.0 dB above 2 kHz",))
    return news.SoundsCompared(part=PART, a=a, b=b, apart=replace(apart, a=a, b=b))


@pytest.mark.parametrize("size", [(80, 24), (160, 50)])
def test_picture_figures_and_words_are_seen_at_once(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await seat.press("less_than_sign")
        await seat.sees("measuring both sounds …")
        assert asked(puppet) == [("002", "001")]
        await seat.told(answer("002", "001"))
        await seat.sees(
            "▔─▁ A 002 crunch", "16k", "loudness LUFS", "brighter by 6.0 dB above 2 kHz"
        )
        assert_fits(seat.desk)
        await seat.press("greater_than_sign")
        await seat.sees("variants")

    run(tmp_path, flow, size=size)


def test_arrows_choose_b_and_a_among_all_sounds_and_one_pair_is_measured_at_a_time(
    tmp_path: Path,
) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await seat.press("less_than_sign", "down", "down")
        await seat.sees("A 002 · B di")
        assert asked(puppet) == [("002", "001")], "nothing waits behind what is measured"
        await seat.told(answer("002", "001"))
        assert asked(puppet)[1:] == [("002", "di")]
        await seat.press("right")
        await seat.sees("A 001 · B di")
        await seat.press("up")
        await seat.sees("A 001 · B original:close")

    run(tmp_path, flow)


def test_why_two_sounds_cannot_be_compared_is_said_and_not_asked_again(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await seat.press("less_than_sign")
        problem = "close.wav is missing; put it back"
        await seat.told(
            news.SoundsCompared(part=PART, a="002", b="001", apart=None, problem=problem)
        )
        await seat.sees(problem)
        assert len(asked(puppet)) == 1

    run(tmp_path, flow)


def test_what_was_held_against_last_is_held_against_again() -> None:
    there = ("003", "002", "001", "di")
    assert other_than(there, "002", last="di") == "di"
    assert other_than(there, "002", last="") == "003"
    assert other_than(there, "003", last="003") == "002"
    assert other_than(("001",), "001", last="") == "001"
