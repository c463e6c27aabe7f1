"""Is the DI ready, by keys alone: findings that jump, hits, a second DI, a grid, and what is asked once."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import cast

import pytest
from checked_di import beside, checked, hits, outlines
from invented import DI_FRAMES, RATE, Names, all_called, evening
from msgspec.structs import replace
from planned import PLAN, planned, stands
from puppet import Puppet
from screens import Seat, play, seated
from shown import HOSTILE

from audio.jobs import news
from audio.jobs.orders import AcceptFindings, CheckPart, CompareHits, RunLine, RunPass
from audio.jobs.runner import Runner
from audio.verdict.readiness_change import changes
from audio.vocab.checked import HitsAsked
from tui.widgets.waveform import Waveform

NAMES = Names()

Flow = Callable[[Seat, Puppet], Awaitable[None]]


def run(folder: Path, flow: Flow, *, size: tuple[int, int] = (80, 24)) -> None:
    puppet = Puppet(folder)

    async def seated_flow() -> None:
        bring = lambda: cast("Runner", puppet)  # noqa: E731 - as short as it is
        async with seated(folder, bring=bring, ready=False, size=size) as seat:
            await flow(seat, puppet)

    play(seated_flow())


async def opened(seat: Seat, *more: news.News, names: Names = NAMES) -> None:
    """Stand at the list of a DI that was checked."""
    drawn = news.Outlined(path=names.file, outlines=outlines(DI_FRAMES))
    await seat.told(*evening(names), drawn, *more)
    await seat.walk_to("DI")
    await seat.press("enter")
    await seat.until(lambda: seat.desk.screen.query("ReadyScreen #wave"), "no list")


def wave(seat: Seat) -> Waveform:
    return seat.desk.screen.query_one("#wave", Waveform)


# ------------------------------------------------------------------ asked for, and shown


def test_every_part_is_checked_by_itself_and_again_only_when_something_changed(
    tmp_path: Path,
) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        first, *rest = evening(NAMES)
        await seat.told(first, *rest, first)
        asked = [one.part for one in puppet.orders if isinstance(one, CheckPart)]
        assert asked == ["rhythm-left", "hook"]
        assert isinstance(first, news.Snapshot)
        assert first.wiring is not None
        await seat.told(replace(first, wiring=replace(first.wiring, sample_rate=44_100)))
        asked = [one.part for one in puppet.orders if isinstance(one, CheckPart)]
        assert asked == ["rhythm-left", "hook"] * 2

    run(tmp_path, flow)


def test_the_list_of_parts_and_the_path_say_whether_a_di_is_ready(tmp_path: Path) -> None:
    async def flow(seat: Seat, _: Puppet) -> None:
        await seat.told(*evening(NAMES))
        await seat.walk_to("DI")
        await seat.sees("peak −9.5 dBFS original close")
        await seat.told(checked(NAMES))
        await seat.sees("mend 1", "the DI is not ready: 1 finding will be heard in every pass")
        assert seat.states["DI"] == "wrong"
        await seat.told(checked(NAMES, joints=()))
        await seat.sees("look 1", "1 finding of the DI may be heard")
        assert seat.states["DI"] == "set"
        await seat.told(checked(NAMES, joints=(), between=()))
        await seat.sees("ready")
        await seat.told(
            news.DiChecked(part=NAMES.part, asked=HitsAsked(), checked=None, problem="gone")
        )
        await seat.sees("gone")

    run(tmp_path, flow)


@pytest.mark.parametrize("size", [(80, 24), (160, 50)])
def test_findings_jump_and_hits_are_walked_down_to_single_samples(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async def flow(seat: Seat, _: Puppet) -> None:
        await opened(seat, checked(NAMES))
        await seat.sees("MEND 1", "24 hits on eighths", "× mend", "31 dB over what the string does")
        await seat.press("down")
        await seat.sees("Hum of 50 Hz", "44 dB under the notes")
        assert wave(seat).here == 15 * RATE
        await seat.press("up")
        assert wave(seat).here == 7 * RATE
        await seat.press("right")  # the next hit behind the joint
        behind = next(one for one in hits() if one.frame > 7 * RATE)
        assert wave(seat).here == round(behind.frame)
        await seat.press("left")
        assert wave(seat).here < 7 * RATE
        await seat.press(*["left"] * 30)
        await seat.sees("2 ms late")
        await seat.press("right", "right")
        await seat.sees("18 ms late", "a chord, 21 ms wide or more", "98% sure")
        await seat.press("enter")
        look = wave(seat).look
        assert look is not None
        assert look.scale * look.width < 0.3 * RATE
        assert {"╵", "▲", "─"} <= set(seat.words)
        await seat.press("enter")
        assert wave(seat).look.is_whole  # type: ignore[union-attr]
        await seat.fits_everywhere()
        await seat.press("escape")
        await seat.sees("last ferry 96 bpm")

    run(tmp_path, flow, size=size)


def test_what_a_new_revision_has_mended_is_in_the_list(tmp_path: Path) -> None:
    before, now = checked(NAMES).checked, checked(NAMES, joints=())
    assert before is not None
    assert now.checked is not None
    change = changes(
        before.findings,
        now.checked.findings,
        hits=(24, 24),
        timing=(before.timing, now.checked.timing),
    )
    told = replace(now, checked=replace(now.checked, change=change))

    async def flow(seat: Seat, _: Puppet) -> None:
        await opened(seat, told)
        await seat.reads_on_to("gone since the revision before: joint: a step in the signal, 31 dB")
        await seat.fits_everywhere()

    run(tmp_path, flow)


def test_a_double_stands_underneath_hit_by_hit_and_goes_away_again(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await opened(seat, checked(NAMES))
        await seat.press("7")
        assert puppet.orders[-1] == CompareHits(part="rhythm-left", other="hook")
        await seat.sees("looking at the hits of hook …")
        await seat.told(
            beside(NAMES), news.Outlined(path="di/hook.wav", outlines=outlines(DI_FRAMES))
        )
        shown = await seat.sees("beside hook: 23 hits together, 5 ms late on average")
        assert "1 extra" in shown
        assert wave(seat)._beside is not None
        await seat.fits_everywhere()
        await seat.reads_on_to("extra: hook has no hit here")
        await seat.press("7")  # there is no backing track: nothing any more
        assert wave(seat)._beside is None
        assert "beside hook" not in seat.flow
        await seat.press("7")
        await seat.told(
            news.HitsCompared(
                part=NAMES.part, other="hook", compared=None, problem="of another rate"
            )
        )
        await seat.sees("of another rate")

    run(tmp_path, flow)


def test_a_grid_is_typed_and_the_answer_to_the_one_before_is_no_longer_taken(
    tmp_path: Path,
) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await opened(seat, checked(NAMES))
        await seat.press("slash")
        await seat.sees("Which grid?")
        await seat.type("2 swung 90")
        await seat.press("enter")
        await seat.sees("50 % (straight) to 75 %")
        for _ in range(10):
            await seat.press("backspace")
        await seat.type("3")
        await seat.press("enter")
        asked = HitsAsked(parts=3)
        assert puppet.orders[-1] == CheckPart(part="rhythm-left", asked=asked)
        await seat.told(checked(NAMES))  # it was asked before
        await seat.told(checked(NAMES, asked))
        await seat.sees("on eighth triplets")

    run(tmp_path, flow)


def test_without_a_check_there_is_a_line_that_says_so_and_every_key_is_harmless(
    tmp_path: Path,
) -> None:
    async def flow(seat: Seat, _: Puppet) -> None:
        await opened(seat)
        await seat.sees("looking the DI through …")
        await seat.press("down", "right", "enter", "left", "up", "0", "p")
        await seat.fits_everywhere()
        await seat.told(
            news.DiChecked(part="hook", asked=HitsAsked(), checked=None, problem="cut short")
        )
        await seat.sees("cut short")

    run(tmp_path, flow)


@pytest.mark.slow
@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_or_finding_steers_the_terminal(tmp_path: Path, name: str) -> None:
    async def flow(seat: Seat, _: Puppet) -> None:
        names = all_called(name)
        one = checked(names)
        await seat.told(*evening(names), one, beside(names, other=name))
        await seat.walk_to("DI")
        await seat.fits_everywhere()
        await seat.press("enter")
        await seat.settle()
        await seat.fits_everywhere()

    run(tmp_path, flow)


# ------------------------------------------------------------------ asked once


def test_a_di_that_is_not_ready_is_asked_about_once_and_then_sent(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await seat.told(*evening(NAMES), checked(NAMES))
        seat.desk.model.chain = "crunch"
        await seat.press("space")
        await seat.sees("is not ready. A pass makes this permanent", "0:07.000", "send it as it is")
        assert seat.desk.model.countdown_s is None
        await seat.fits_everywhere()
        await seat.press("escape")
        await seat.sees("nothing was sent")
        assert not any(isinstance(one, RunPass | AcceptFindings) for one in puppet.orders)
        await seat.press("space", "enter")
        assert puppet.orders[-1] == AcceptFindings(part="rhythm-left")
        await seat.told(news.Idle())
        await seat.wait(3.0)
        assert isinstance(puppet.orders[-1], RunPass)
        await seat.told(news.Idle())
        await seat.press("escape", "space")
        await seat.wait(3.0)
        sent = [one for one in puppet.orders if isinstance(one, RunPass)]
        assert len(sent) == 2  # not asked again

    run(tmp_path, flow)


def test_a_run_asks_before_its_card_is_played(tmp_path: Path) -> None:
    async def flow(seat: Seat, puppet: Puppet) -> None:
        await seat.told(*planned(), checked(NAMES))
        await seat.press("l", "down")
        await seat.sees("× mend DI", "the DI of rhythm-left is not ready")
        await seat.press("escape", "g")
        await seat.told(stands(PLAN.lines[1].wanted.key), news.Idle())
        await seat.press("space")
        await seat.sees("is not ready. A pass makes this permanent")
        await seat.press("enter")
        await seat.told(news.Idle())
        await seat.wait(3.0)
        assert isinstance(puppet.orders[-1], RunLine)

    run(tmp_path, flow)
