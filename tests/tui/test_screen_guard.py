"""Keys that start and stop: held, pressed twice, pressed when nothing is there to stop."""

from __future__ import annotations

from pathlib import Path

import pytest
from needs import needs_samples
from rooms import RATE, make_session, room, wired
from screens import Seat, play, seated

from audio.session.folder import open_session
from audio.session.records import variants
from audio.vocab.variant import Variant
from tui.timing import GUARD_S

pytestmark = needs_samples()

NEVER_MIND = ("s", "s", "escape", "escape")


def by_the_clock(folder: Path, seconds: float = 4.0) -> Path:
    """Make a session whose passes take as long as they last."""
    return make_session(folder, wiring=wired(room(pace="clock")), seconds=seconds).folder


async def rolling(seat: Seat) -> None:
    """Start a pass and wait until its DI rolls."""
    await seat.press("space")
    await seat.wait(seat.desk.settings.countdown_s)
    await seat.sees("ROLLING", "SENDING", "nothing lost", "space stop and keep")
    await seat.until(lambda: rolled_s(seat) > 0.5, "the DI never left")


def rolled_s(seat: Seat) -> float:
    """Return how long the roll under way has lasted."""
    status = seat.desk.status()
    return status.roll_frame / RATE if status is not None else 0.0


@pytest.mark.slow
def test_a_key_that_is_held_counts_once_and_stop_keeps_what_was_recorded(tmp_path: Path) -> None:
    folder = by_the_clock(tmp_path)

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.press(*NEVER_MIND)  # nothing sounds: nothing happens
            assert not seat.desk.model.busy
            assert not seat.desk.model.troubles
            await seat.press("down")
            await seat.hold("space", 15)  # 450 ms: started once, not called off
            await seat.sees("COUNTDOWN")
            await seat.hold("space", 50)  # held on for longer than the guard: still once
            assert seat.desk.model.countdown_s is not None
            await seat.wait(GUARD_S)
            await seat.press("s")
            await seat.sees("called off; nothing sounded")
            await rolling(seat)
            await seat.hold("space", 30)  # one stop; the rest of the presses starts nothing
            await seat.done()
            shown = await seat.sees("VERDICT", "nothing sounds")
            assert seat.desk.model.countdown_s is None
            assert "001 bare path stopped" in shown
            await seat.press(*NEVER_MIND)
            await seat.sees("▸variants", "▸ 001 bare path", "stopped")
            await seat.fits_everywhere()

    play(flow())
    (kept,) = variants_of(folder)
    assert (kept.number, kept.state) == (1, "stopped")
    assert all(0 < file.frames < 4.0 * RATE for file in kept.files)


def test_a_stop_during_the_clicks_records_nothing_and_says_so(tmp_path: Path) -> None:
    folder = by_the_clock(tmp_path)

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.press("down", "space")
            await seat.wait(3.0)
            await seat.sees("TEST CLICK", "SENDING")
            await seat.press("s")
            await seat.done()
            shown = await seat.sees("NOT RECORDED", "nothing was recorded")
            assert "nothing sounds" in shown
            assert "e evidence" not in shown  # there is none
            await seat.fits_everywhere()

    play(flow())
    assert not variants_of(folder)


def variants_of(folder: Path) -> tuple[Variant, ...]:
    return variants(open_session(folder)).found
