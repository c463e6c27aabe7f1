"""The card of a run by keys alone, no sound beside it: a redo, a countdown by itself, a long chain."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import pytest
from invented import variant
from msgspec.structs import replace
from planned import CRUNCH, FIRST, FUZZ, NAMES, PLAN, SECOND, line, passed, planned, stands
from puppet import Puppet
from screens import Seat, play, seated

from audio.jobs import news
from audio.jobs.orders import BeginRun, HoldRun, RunLine
from audio.jobs.runner import Runner
from audio.vocab.chain import Chain, Pedal
from audio.vocab.plan import PlanNow
from tui.present.card import Picture, by_hand, word
from tui.present.carded import card_state


async def at_the_card(seat: Seat, *, plan: PlanNow = PLAN) -> None:
    """Begin a run and stand at its first card."""
    await seat.told(*planned(plan=plan))
    await seat.press("g")
    await seat.told(stands(FIRST, plan=plan), news.Idle())
    await seat.sees("card 2 of 4")


async def judged(seat: Seat, *, redo: bool) -> None:
    """Say go, and let the pass leave a variant."""
    await seat.press("space")
    await seat.wait(3.0)
    await seat.told(stands(FIRST, state="playing"))
    done = replace(variant(NAMES, 2, redo=redo), state="kept")
    await seat.told(news.PassDone(variant=done, fault=None, interrupted=False))


def test_a_redo_fills_the_card_with_its_reason_and_what_to_press(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await at_the_card(seat)
            await judged(seat, redo=True)
            await seat.told(stands(FIRST, state="held", reason="close is silent"), news.Idle())
            await seat.sees("held: close is silent", "brings its card again", "holds the run")
            assert any("██" in row for row in seat.words.split("\n")[1:7])  # REDO, large
            there = card_state(seat.desk.model, None)
            assert (there.finding, there.card) == ("close is silent", ())
            assert word(Picture(state=there)) == ("HELD", "care")
            await seat.press("asterisk")
            await seat.sees("is repeated once")
            await seat.fits_everywhere()
            await seat.press_named("space")
            assert puppet.orders[-1] == BeginRun(repeat_redo=True)

    play(flow())


@pytest.mark.parametrize("key", ["e", "f12"])
def test_any_key_holds_a_run_that_counts_down_by_itself(tmp_path: Path, key: str) -> None:
    """One that does something elsewhere, and one that does nothing anywhere."""
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await at_the_card(seat)
            await judged(seat, redo=False)
            await seat.told(stands(SECOND, plan=passed(FIRST)), news.Idle())
            await seat.sees("any key holds the run")
            await seat.fits_everywhere()
            await seat.press(key)
            assert puppet.orders[-1] == HoldRun(reason="the countdown was called off")
            held = stands(SECOND, plan=passed(FIRST), state="held", reason="x")
            await seat.told(held, news.Idle())
            await seat.wait(20.0)
            assert sum(isinstance(one, RunLine) for one in puppet.orders) == 1

    play(flow())


def test_a_countdown_that_somebody_began_goes_on_whatever_key_is_touched(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await at_the_card(seat)
            await seat.press("space", "f12")
            await seat.wait(3.0)
            assert puppet.orders[-1] == RunLine(key=FIRST)

    play(flow())


def test_a_chain_that_is_longer_than_the_screen_says_so_and_is_walked(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)
    pedals = tuple(Pedal(name=f"box {n}", knobs={"level": f"{n}"}) for n in range(30))
    long_one = Chain(name=FUZZ.name, pedals=pedals)
    first = line("rhythm-left", FUZZ.name, before=CRUNCH, touch=())
    plan = replace(PLAN, lines=(PLAN.lines[0], first, *PLAN.lines[2:]))

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await at_the_card(seat, plan=plan)
            there = seat.desk.model.snapshot
            assert there is not None
            files = tuple(replace(one, chain=long_one) for one in there.chains if one.chain == FUZZ)
            await seat.told(replace(there, chains=files))
            await seat.sees("box 0", "lines more")
            await seat.press("pagedown", "pagedown")
            shown = await seat.sees("box 29")
            assert "lines more" not in shown
            await seat.press("pageup", "pageup", "down")
            assert "box 0 " not in await seat.sees("box 1 ", "lines more")

    play(flow())


def test_who_stands_at_the_amp_reads_the_same_card_with_its_caution_and_note(
    tmp_path: Path,
) -> None:
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await at_the_card(seat)
            await seat.sees("standby while replugging", "the red one", "photos: board.jpg")
            there = card_state(seat.desk.model, None)
            assert "standby while replugging" in there.advice
            assert there.place == "card 2 of 4"
            rows = by_hand(Picture(state=there), 40, 60)  # a phone's columns
            assert "the red one" in " ".join(" ".join(row.plain for row in rows).split())
            assert all(row.cell_len <= 40 for row in rows)
            unknown = replace(PLAN, lines=PLAN.lines[3:])
            await seat.told(stands(unknown.lines[0].wanted.key, plan=unknown))
            await seat.sees("Nothing is written down of it")
            there = card_state(seat.desk.model, None)
            assert "set it as you know it" in " ".join(there.card[-1].settings)

    play(flow())
