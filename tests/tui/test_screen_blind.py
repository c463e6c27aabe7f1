"""Blind on the screen: who listens, how often, places without names, answers that count, a result."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from hearing import NAMES, at_the_sounds, roll
from invented import listened, sounds
from msgspec.structs import replace
from puppet import Puppet
from screens import Seat, assert_fits, play

from audio.jobs import news
from audio.jobs.orders import AnswerBlind, BeginBlind, EndBlind, Listen
from audio.plan.blind_result import comparisons
from audio.vocab.blind import Answer, Mode, Sitting, SittingNow, Trial
from audio.vocab.listening import Flip, MatchThem

TWO = ("002", "001")
Flow = Callable[[Seat, Puppet], Awaitable[None]]


def sitting(mode: Mode, *said: str) -> SittingNow:
    """Return a sitting of Mara's with so many answers."""
    behind = {"pairs": ("001", "002"), "apart": ("002", "001", "001"), "ranking": ("001", "002")}[
        mode
    ]
    trials = tuple(Trial(index=index, behind=behind) for index in range(1, 7))
    return SittingNow(
        sitting=Sitting(
            number=3, part=NAMES.part, mode=mode, sounds=TWO, listener="Mara", planned=6
        ),
        trials=trials,
        answers=tuple(
            Answer(trial=index, said=one)  # type: ignore[arg-type]
            for index, one in enumerate(said, start=1)
        ),
    )


def run(
    folder: Path, flow: Flow, *, mode: Mode = "pairs", size: tuple[int, int] = (80, 24)
) -> None:
    """Have two sounds left, the row of blind chosen, and do something."""
    puppet = Puppet(folder)

    async def seated_flow() -> None:
        async with at_the_sounds(puppet, size=size) as seat:
            for letter in "CD":
                await seat.press(letter, "x")
            await seat.press("A", "enter", "up", *["down"] * 9)
            await seat.press(*["right"] * ("pairs", "ranking", "apart").index(mode))
            await flow(seat, puppet)

    play(seated_flow())


async def begin(seat: Seat, mode: Mode = "pairs") -> None:
    """Say who listens and how often; the session has drawn the trials."""
    await seat.press("enter")
    await seat.type("Mara")
    await seat.press("enter", "enter")
    await seat.told(news.BlindStands(now=sitting(mode)))


def of(puppet: Puppet, kind: type) -> list[object]:
    return [one for one in puppet.orders if isinstance(one, kind)]


@pytest.mark.parametrize("size", [(80, 24), (160, 50)])
def test_it_asks_who_listens_and_how_often_and_then_shows_no_name(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await seat.sees("in pairs: which is better")
        await begin(seat)
        asked = BeginBlind(part=NAMES.part, mode="pairs", sounds=TWO, listener="Mara", planned=12)
        assert of(puppet, BeginBlind) == [asked]
        await seat.sees("blind, Mara: which is better?", "0 of 6 answered", "▸ first", "second")
        assert not any(name in seat.words for name in (NAMES.chain, "002", "001", "LUFS", "dB"))
        assert_fits(seat.desk)

    run(tmp_path, flow, size=size)


def test_an_answer_counts_once_everything_was_heard_matched(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await begin(seat)
        await seat.press("enter")
        await seat.sees("press space and listen first")
        await roll(seat, puppet)
        (listen,) = (one for one in puppet.orders if isinstance(one, Listen))
        assert MatchThem(on=True) in listen.steers
        await seat.press("enter")
        await seat.sees("hear every one of them first")
        await seat.press("down")
        assert puppet.steers[-1] == Flip(key="002")
        await seat.press("tab")
        assert puppet.steers[-1] == Flip(key="001")
        await seat.told(news.ListeningStands(now=replace(sounds(NAMES), measured=False)))
        await seat.press("enter")
        await seat.sees("still being matched in loudness")
        assert not of(puppet, AnswerBlind)
        await seat.told(news.ListeningStands(now=replace(sounds(NAMES), measured=True)))
        await seat.press("enter")
        assert of(puppet, AnswerBlind) == [AnswerBlind(number=3, trial=1, said="first")]
        await seat.told(news.BlindStands(now=sitting("pairs", "first")))
        await seat.sees("1 of 6 answered", "second not heard yet")
        await seat.press("down", "down", "enter")
        assert of(puppet, AnswerBlind)[-1] == AnswerBlind(number=3, trial=2, said="tie")

    run(tmp_path, flow)


def test_x_is_judged_by_going_to_a_or_b(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await begin(seat, "apart")
        await roll(seat, puppet)
        await seat.press("B", "X", "enter")
        await seat.sees("X is the one to judge")
        assert puppet.steers[-1] == Flip(key="001")
        await seat.press("B", "enter")
        assert of(puppet, AnswerBlind) == [AnswerBlind(number=3, trial=1, said="b")]

    run(tmp_path, flow, mode="apart")


def test_a_ranking_is_done_when_every_place_has_a_rank_and_equal_ranks_are_one(
    tmp_path: Path,
) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await begin(seat, "ranking")
        await roll(seat, puppet)
        await seat.press("down", "left", "down", "enter")
        await seat.sees("give each of them a rank")
        await seat.press("A", "right", "left", "left", "left")
        await seat.sees("A 1, the best")
        await seat.press("down", "down", "enter")
        assert of(puppet, AnswerBlind) == [AnswerBlind(number=3, trial=1, said=(1, 1))]

    run(tmp_path, flow, mode="ranking")


def test_the_result_stands_there_when_all_is_answered(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await begin(seat)
        over = sitting("pairs", *["second"] * 6)
        await seat.told(news.BlindStands(now=over, told=comparisons((over,))))
        await seat.sees("6 of 6 answered", "002 preferred to 001 in 6 of 6 answers")
        await seat.press("enter")
        assert not of(puppet, AnswerBlind)
        await seat.press("escape")
        await seat.sees("in pairs: which is better")

    run(tmp_path, flow)


def test_going_back_tells_nothing_of_what_was_heard_last_and_ends_nothing(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await begin(seat)
        await roll(seat, puppet)
        await seat.press("escape")
        assert puppet.steers[-1] == Flip(key="002"), "the first of the list"
        assert not of(puppet, EndBlind)

    run(tmp_path, flow)


def test_z_ends_it_early_once_however_long_it_is_held(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await begin(seat)
        await seat.press("z")
        await seat.hold("z", 10)
        assert of(puppet, EndBlind) == [EndBlind(number=3)]

    run(tmp_path, flow)


def test_too_many_or_too_few_sounds_are_told_before_anybody_is_asked(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await seat.press("enter")
        await seat.sees("4 sounds cannot be told apart at once; choose two", "x leaves a sound out")
        assert not of(puppet, BeginBlind)

    puppet = Puppet(tmp_path)

    async def seated_flow() -> None:
        async with at_the_sounds(puppet) as seat:
            await seat.press("enter", *["down"] * 9, "left", "right", "right")
            await flow(seat, puppet)

    play(seated_flow())


def test_a_number_of_answers_that_could_say_nothing_is_refused_where_it_is_typed(
    tmp_path: Path,
) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await seat.press("enter")
        await seat.type("Mara")
        await seat.press("enter", "ctrl+u")
        await seat.type("5")
        await seat.press("enter")
        await seat.sees("5 trials can say nothing")
        assert not of(puppet, BeginBlind)

    run(tmp_path, flow)


def test_news_of_another_sound_never_show_in_it(tmp_path: Path) -> None:
    async def flow(seat: Seat, _: Puppet) -> None:
        await begin(seat)
        await seat.told(*listened(NAMES))
        assert NAMES.chain not in seat.words

    run(tmp_path, flow)
