"""A run at the desk, with keys only: cards, countdowns, a hold, the plan by hand, a chain written down."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import pytest
from invented import Names
from invented import evening as shown_evening
from msgspec.structs import replace
from needs import needs_samples
from puppet import Puppet
from rooms import make_session, room, wired
from screens import Seat, play, seated

from audio.jobs.news import Idle
from audio.jobs.orders import OrderLines
from audio.jobs.runner import Runner
from audio.session.opened import Session
from audio.vocab.plan import PlanLine, PlanNow, Wanted
from tui.screens.chain_card import ChainCardScreen
from tui.screens.plan import PlanScreen

pytestmark = needs_samples()

CHAINS = {
    "crunch": ({"kind": "drive", "drive_db": 12.0},),
    "fuzz": ({"kind": "drive", "drive_db": 30.0},),
}
PLAN = """\
passes:
  - {parts: [riff, hook], chains: [crunch, fuzz]}
"""
CRUNCH = """\
pedals: [{pedal: drive, knobs: {gain: 2:30}}]
amp: {input: bright, knobs: {treble: 6}}
"""
FUZZ = "as: crunch\npedals: [{pedal: fuzz, knobs: {volume: 7}}]\nnote: the red one\n"


def evening(folder: Path) -> Session:
    """Return a session of two parts with two chains and a plan over all of them."""
    session = make_session(folder, wiring=wired(room(chains=CHAINS)), parts=("riff", "hook"))
    (session.folder / "chains").mkdir()
    (session.folder / "chains" / "crunch.yaml").write_text(CRUNCH, encoding="utf-8")
    (session.folder / "chains" / "fuzz.yaml").write_text(FUZZ, encoding="utf-8")
    (session.folder / "plan.yaml").write_text(PLAN, encoding="utf-8")
    return session


async def at_card(seat: Seat, state: str = "waiting") -> None:
    await seat.until(
        lambda: (
            isinstance(seat.desk.screen, ChainCardScreen)
            and not seat.desk.model.busy
            and seat.desk.model.run().state == state
        ),
        f"no card {state}",
    )


async def the_bare_path_is_measured(seat: Seat) -> None:
    """Begin: the first card is the bare path's; nothing has sounded before go."""
    await seat.press_named("g")
    await at_card(seat)
    shown = await seat.sees("the bare path", "take every pedal out", "nothing sounds")
    assert "standby" in shown
    await seat.fits_everywhere()
    await seat.press_named("space")
    await seat.sees("the test click sounds in")
    await seat.wait(6.0)
    await at_card(seat)


async def goes(seat: Seat) -> None:
    """Let a countdown end and the pass play."""
    await seat.until(lambda: seat.desk.model.countdown_s is not None, "no countdown")
    await seat.wait(6.0)
    await seat.until(lambda: seat.desk.model.doing == "pass", "no pass began")
    await seat.until(lambda: not seat.desk.model.busy, "the pass never ended")


def test_a_run_leads_through_its_cards_and_waits_wherever_a_hand_is_needed(tmp_path: Path) -> None:
    session = evening(tmp_path)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.sees("▸chain")
            await the_bare_path_is_measured(seat)
            shown = await seat.sees("riff through crunch", "card 1 of 4", "new", "standby")
            assert "next: riff through crunch" in shown
            await seat.fits_everywhere()
            await seat.wait(30.0)  # nobody says go: nothing sounds
            assert seat.desk.model.countdown_s is None
            await seat.press_named("space")
            await goes(seat)
            # The same chain again: nobody has to touch anything, so it counts down by itself.
            await goes(seat)
            await at_card(seat)
            shown = await seat.sees("through fuzz", "card 3 of 4", "out", "new", "last: hook 001")
            await seat.wait(30.0)
            assert seat.desk.model.countdown_s is None
            await seat.press_named("space")
            await seat.until(lambda: seat.desk.model.countdown_s is not None)
            await seat.press("space")  # called off: the card again, nothing has sounded
            await at_card(seat)
            await seat.press_named("f")
            await seat.sees("hook through fuzz", "card 4 of 4")
            await seat.press_named("space")
            await goes(seat)
            await at_card(seat, "ended")
            shown = await seat.sees("run 1 is over", "3 of 4 done")
            assert "next:" not in shown
            await seat.fits_everywhere()

    play(flow())
    made = sorted(p.name for p in (session.folder / "passes").glob("*/*/*_close.wav"))
    assert made == [
        "hook_001_crunch_close.wav",
        "hook_002_fuzz_close.wav",
        "riff_001_crunch_close.wav",
    ]


@pytest.mark.slow
def test_a_countdown_that_began_by_itself_is_called_off_into_a_hold(tmp_path: Path) -> None:
    session = evening(tmp_path)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await the_bare_path_is_measured(seat)
            await seat.press_named("space")
            await goes(seat)
            await seat.until(lambda: seat.desk.model.countdown_s is not None, "no countdown")
            await seat.press("s")
            await at_card(seat, "held")
            await seat.sees("held: the countdown was called off", "space go on")
            await seat.press("escape")
            await seat.sees("▸chain", "its card comes back")
            await seat.press("g")
            await at_card(seat)  # going on shows the card, and sounds nothing
            assert seat.desk.model.countdown_s is None

    play(flow())


def test_the_plan_is_ordered_added_to_and_read_by_keys(tmp_path: Path) -> None:
    session = evening(tmp_path)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.press_named("l")
            shown = await seat.sees("4 left", "riff through crunch", "none costs less")
            assert isinstance(seat.desk.screen, PlanScreen)
            await seat.fits_everywhere()
            await seat.press_named("right")
            await seat.sees("in your order", "▸ 2 □ to do riff through crunch")
            await seat.press_named("f")
            await seat.sees("– skipped", "3 left")
            await seat.press("home")
            shown = await seat.sees("none costs less")
            assert "in your order" not in shown
            await seat.press_named("y")
            await seat.sees("Which passes?")
            await seat.type("riff through crunch; bars 9-2")
            await seat.press("enter")
            await seat.sees("end before they begin")
            await seat.press(*["backspace"] * 3)
            await seat.until(lambda: "riff" in seat.desk.model.dis, "the DI was never read")
            await seat.type("9-9")
            await seat.press("enter")
            await seat.sees("riff: bar 9: the DI holds bars 1 to 1")
            await seat.press(*["backspace"] * 3)
            await seat.type("1-1")
            await seat.press("enter")
            await seat.sees("riff through crunch, bar 1", "4 left")
            await seat.press_named("u")
            await seat.sees("parts down", "hook", "1 to do")
            await seat.fits_everywhere()

    play(flow())
    assert "bars: 1-1" in (session.folder / "plan.yaml").read_text(encoding="utf-8").replace(
        '"', ""
    )


def test_a_chain_is_written_down_and_chosen(tmp_path: Path) -> None:
    session = evening(tmp_path)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.press("down", "down")
            await seat.sees("▸ crunch", "drive: gain 2:30")
            await seat.press_named("k")
            await seat.sees("crunch 2", "gain", "2:30")
            await seat.fits_everywhere()
            await seat.press("down", "down", "right")
            await seat.sees("▸ gain 3:00")
            await seat.press_named("n")
            await seat.sees("Which pedal follows here?")
            await seat.type("delay")
            await seat.press("enter")
            await seat.sees("▸ delay")  # the cursor is where the next knob or pedal belongs
            await seat.press_named("j")
            await seat.type("time")
            await seat.press("enter", "right")
            await seat.sees("▸ time", "12:30")
            await seat.press("pagedown", "pagedown", "up")
            await seat.sees("▸ save", "with this session")
            await seat.press("enter")
            await seat.sees("▸chain", "▸ crunch 2", "drive: gain 3:00", "delay")

    play(flow())
    text = (session.folder / "chains" / "crunch-2.yaml").read_text(encoding="utf-8")
    assert 'gain: "3:00"' in text
    assert 'time: "12:30"' in text
    assert (session.folder / "chains" / "crunch.yaml").read_text(encoding="utf-8") == CRUNCH


def test_what_is_typed_faster_than_the_plan_is_written_is_all_done(tmp_path: Path) -> None:
    session = evening(tmp_path)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.press_named("l")
            await seat.sees("▸ 1 □ to do riff through crunch")
            await seat.press("right", "right", "right", "left", "f")
            await seat.sees("▸ 3 – skipped riff through crunch")
            await seat.press("f", "f", "f")
            await seat.sees("▸ 3 □ to do riff through crunch")
            await seat.done()
            await seat.sees("▸ 3 □ to do riff through crunch", "in your order")

    play(flow())


def test_what_waits_behind_a_stop_is_forgotten_and_nothing_is_changed_while_something_sounds(
    tmp_path: Path,
) -> None:
    puppet = Puppet(tmp_path)  # it takes every order, and none of them ends
    lines = tuple(
        PlanLine(wanted=Wanted(key=key, part="rhythm-left", chain=key)) for key in ("a", "b", "c")
    )

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            first, *rest = shown_evening(Names())
            await seat.told(replace(first, plan=PlanNow(lines=lines)), *rest, Idle())
            await seat.press("l")
            await seat.sees("rhythm-left through a")
            puppet.orders.clear()
            await seat.press("right", "right", "right")
            assert puppet.orders == [OrderLines(keys=("b", "a", "c"))]
            await seat.told(Idle())
            assert len(puppet.orders) == 2
            await seat.press("s")
            await seat.told(Idle())
            assert len(puppet.orders) == 2
            seat.desk.model.doing = "pass"
            await seat.press("f")
            await seat.sees("something is under way; the plan is changed when that is over")
            assert len(puppet.orders) == 2

    play(flow())
