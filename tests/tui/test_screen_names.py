"""Names as somebody may type them, or a file or a driver may carry them, in every place a name appears."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import pytest
from invented import Names, all_called, click, evening, read, rolls, variant
from needs import needs_samples
from puppet import Puppet
from rooms import make_session, room, wired
from screens import Seat, assert_fits, play, seated
from shown import HOSTILE

from audio.jobs import news
from audio.jobs.runner import Runner
from audio.plan.path import STAGES
from audio.vocab.devices import DeviceFacts, DeviceList
from audio.vocab.wiring import Return

LETTERS = "\N{HEBREW LETTER SHIN}\N{HEBREW LETTER LAMED}\N{HEBREW LETTER VAV}"


async def every_stage_fits(seat: Seat) -> None:
    for name in STAGES:
        await seat.walk_to(name)
        assert_fits(seat.desk)


async def every_view_fits(seat: Seat, names: Names) -> None:
    """Look at everything that shows a name."""
    await every_stage_fits(seat)
    await seat.press("e")
    assert_fits(seat.desk)
    await seat.press("e", "w")
    device = DeviceFacts(
        host=names.device, name=names.device, inputs=8, outputs=8, default_rate=1.0
    )
    await seat.told(news.Devices(devices=DeviceList(devices=(device,))))
    assert_fits(seat.desk)
    await seat.press("escape", "n")
    assert_fits(seat.desk)
    await seat.press("escape", "question_mark")
    assert_fits(seat.desk)
    await seat.press("escape")
    seat.desk.model.chain = names.chain
    await seat.press("space")
    assert_fits(seat.desk)
    await seat.wait(3.0)
    await seat.told(*rolls(names))
    assert "\x1b" not in seat.words
    assert_fits(seat.desk)
    await seat.press("q")
    assert_fits(seat.desk)
    await seat.told(
        news.RollEnds(),
        news.PassDone(variant=variant(names, 7, redo=True), fault=None, interrupted=True),
        news.Idle(),
    )
    assert_fits(seat.desk)
    await seat.told(news.Trouble(text=names.said))
    assert_fits(seat.desk)


@pytest.mark.slow
@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_stays_a_name_in_every_view_and_at_every_size(
    tmp_path: Path, name: str
) -> None:
    names = all_called(name)
    puppet = Puppet(tmp_path)

    async def flow() -> None:
        bring = lambda: cast("Runner", puppet)  # noqa: E731 - one line says it
        async with seated(tmp_path, bring=bring, ready=False) as seat:
            shown = (variant(names, 1), variant(names, 2, redo=True))
            puppet.read = (read(shown[0]), read(shown[1], earlier=shown[0]))
            await seat.told(*evening(names, *shown), click(names))
            seat.desk.model.chain = names.chain
            await every_view_fits(seat, names)
            for size in ((120, 40), (200, 60), (60, 16)):
                await seat.resize(*size)
                assert_fits(seat.desk)
                await seat.press("escape", "escape")
                await every_stage_fits(seat)

    play(flow())


@needs_samples()
@pytest.mark.slow
def test_a_session_full_of_names_the_format_allows_is_played_to_its_verdict(tmp_path: Path) -> None:
    hostile = "[/]x [link=http://x]y[/link]"
    far = f"部屋 {LETTERS} {'x' * 30}"
    returns = (Return(LETTERS, 2), Return(far, 3))
    wiring = wired(room(), name=hostile, returns=returns, reference=LETTERS)
    session = make_session(
        tmp_path,
        wiring=wiring,
        parts=("[b]riff[b]", f"部屋の{LETTERS}"),
        name=hostile,
        song=f"部屋 {LETTERS} {'y' * 60}",
    )

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.walk_to("DI")
            await seat.sees("▸ [b]riff[b]", "[/]x [link=http://x]y[/link]")
            await seat.fits_everywhere()
            await seat.press("n")
            await seat.type(hostile)
            await seat.press("enter")
            done = await seat.pass_to_its_end()
            assert done.chain.name == hostile
            await seat.sees("VERDICT [b]riff[b] 001 [/]x [link=http://x]y[/l")
            await seat.fits_everywhere()
            await seat.press("e")
            await seat.sees(f"[b]riff[b] 001 through {hostile}")
            await seat.fits_everywhere()

    play(flow())
