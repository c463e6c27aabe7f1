"""Eleven pictures at 80×24, kept as text beside this file: the diff shows what a change of the screen does.

All that would vary is given: the evening is invented (`invented.py`), the clock is set by hand, and
the waveform is the demo's own DI. Looked at and found right, the pictures are rewritten by

    REWRITE_SNAPSHOTS=1 pytest tests/tui/test_screen_snapshots.py
"""

from __future__ import annotations

import os
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import cast

import pytest
from checked_di import beside, checked
from invented import DI_FRAMES, Names, click, evening, listened, read, rolls, sounds, variant
from msgspec.structs import replace
from planned import PLAN, planned, stands
from puppet import Puppet
from screens import Seat, play, seated

import demo
from audio.jobs import news
from audio.jobs.runner import Runner
from audio.vocab.listening import ListeningNow
from audio.vocab.requests import Outline
from audio.vocab.status import Meters, Status
from audio.work.outlines import outline

HERE = Path(__file__).parent / "snapshots"
NAMES = Names()
FIRST, SECOND = variant(NAMES, 1), variant(NAMES, 2, redo=True)


async def at_the_chain(seat: Seat, _: Puppet) -> None:
    await seat.told(*evening(NAMES, FIRST))
    await seat.press("down")
    await seat.sees("▸chain", "next: ")


async def at_the_di(seat: Seat, _: Puppet) -> None:
    file = demo.content() / "rhythm-left.flac"
    drawn = outline(Outline(path=str(file), channel=0))
    shown = news.Outlined(path=NAMES.file, outlines=drawn)
    await seat.told(*evening(NAMES), checked(NAMES), shown)
    await seat.walk_to("DI")
    await seat.press("plus")
    await seat.sees("▸DI", "frames a column")


async def at_what_is_said_of_it(seat: Seat, puppet: Puppet) -> None:
    await at_the_di(seat, puppet)
    await seat.press("enter")
    await seat.told(beside(NAMES))
    await seat.press("right", "right", "right")
    await seat.sees("18 ms late", "beside hook")


async def at_the_returns(seat: Seat, _: Puppet) -> None:
    await seat.told(*evening(NAMES), click(NAMES))
    await seat.walk_to("returns")
    await seat.sees("▸returns", "702.37")


async def counting_down(seat: Seat, puppet: Puppet) -> None:
    await at_the_chain(seat, puppet)
    await seat.press("space")
    await seat.wait(1.0)
    await seat.sees("COUNTDOWN")


async def judged(seat: Seat, puppet: Puppet) -> None:
    await at_the_chain(seat, puppet)
    await seat.press("space")
    await seat.wait(3.0)
    await seat.told(*rolls(NAMES))
    await seat.sees("ROLLING")
    for fifth in range(38):  # 7.4 s of it; the close microphone falls silent on the way
        puppet.shown = playing(fifth * 9_600, dead=fifth > 30)
        await seat.wait(0.2)
    done = news.PassDone(variant=SECOND, fault=None, interrupted=True)
    await seat.told(news.RollEnds(), done, news.Idle())
    await seat.sees("VERDICT")


async def looked_into(seat: Seat, puppet: Puppet) -> None:
    puppet.read = (read(SECOND, earlier=FIRST),)
    await seat.told(*evening(NAMES, FIRST, SECOND))
    await seat.walk_to("variants")
    await seat.press("e")
    await seat.sees("placement")
    await seat.settle()  # the scrollbar comes with what there is to scroll


async def at_a_card(seat: Seat, _: Puppet) -> None:
    await seat.told(*planned())
    await seat.press("g")
    await seat.told(stands(PLAN.lines[1].wanted.key), news.Idle())
    await seat.sees("card 2 of 4")


async def at_the_plan(seat: Seat, _: Puppet) -> None:
    await seat.told(*planned(FIRST))
    await seat.press("l", "down")
    await seat.sees("to touch")


async def to_listen_to(seat: Seat, puppet: Puppet) -> None:
    puppet.sounds = news.SoundsRead(part=NAMES.part, now=sounds(NAMES))
    await seat.told(*evening(NAMES, FIRST, SECOND))
    await seat.walk_to("variants")
    await seat.press("enter")
    await seat.sees("All sounds roll together")


async def balanced(seat: Seat, puppet: Puppet) -> None:
    await to_listen_to(seat, puppet)
    await seat.press("space")
    await seat.told(*listened(NAMES))
    puppet.shown = playing(5 * 48_000, dead=False)
    await seat.press("B", "C", "x", "tab", "enter", "down", "down", "down", "left", "left")
    await seat.told(news.ListeningStands(now=settled(seat)))
    await seat.sees("−2 dB", "left out", "all matched")


def settled(seat: Seat) -> ListeningNow:
    """Return what rolls as it stands once its loudness is known."""
    assert seat.desk.model.listening is not None
    return replace(seat.desk.model.listening, measured=True)


def playing(frame: int, *, dead: bool) -> Status:
    """Return the engine's picture while a note a second is played and dies away."""
    level = 0.25 * 0.5 ** (frame % 48_000 / 12_000)
    back = 0.0 if dead else level / 2
    peaks = (0.0, back, level / 4, *[0.0] * 5)
    inputs = Meters(peaks, peaks, (0.0, 0.125, 0.0625, *[0.0] * 5), (0,) * 8)
    outs = (0.0, 0.0, level, *[0.0] * 5)
    outputs = Meters(outs, outs, (0.0, 0.0, 0.25, *[0.0] * 5), (0,) * 8)
    return Status(frame, frame, frame, DI_FRAMES, 1, 0, 0, 0, inputs, outputs)


FLOWS: dict[str, Callable[[Seat, Puppet], Awaitable[None]]] = {
    "chain": at_the_chain,
    "di": at_the_di,
    "ready": at_what_is_said_of_it,
    "returns": at_the_returns,
    "countdown": counting_down,
    "verdict": judged,
    "evidence": looked_into,
    "chain_card": at_a_card,
    "plan": at_the_plan,
    "listen": to_listen_to,
    "balance": balanced,
}


@pytest.mark.parametrize("name", FLOWS)
def test_the_picture_is_the_one_that_was_looked_at(tmp_path: Path, name: str) -> None:
    puppet, kept = Puppet(tmp_path), HERE / f"{name}.txt"
    shown: list[str] = []

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await seat.until(lambda: seat.desk.link.is_up, "nobody came")
            await FLOWS[name](seat, puppet)
            shown.append("".join(f"{row.rstrip()}\n" for row in seat.words.split("\n")))

    play(flow())
    if os.environ.get("REWRITE_SNAPSHOTS"):
        HERE.mkdir(exist_ok=True)
        kept.write_text(shown[0], encoding="utf-8")
    assert shown[0] == kept.read_text(encoding="utf-8")
