"""Returns: the test click, levels that move, a microphone that is not there, a click of another stream."""

from __future__ import annotations

from pathlib import Path

import pytest
from needs import needs_samples
from rooms import make_session, room, wired
from screens import Seat, play, seated

from tui.widgets.levels import Levels

pytestmark = needs_samples()


def levels(seat: Seat) -> str:
    """Return what the levels say."""
    shown = seat.desk.path_screen.query_one("#levels", Levels)
    region = shown.region
    rows = seat.words.split("\n")[region.y : region.bottom]
    return "\n".join(rows)


@pytest.mark.slow
def test_the_click_measures_each_return_while_levels_move_and_is_stale_in_another_stream(
    tmp_path: Path,
) -> None:
    folder = make_session(tmp_path, wiring=wired(room(pace="clock"))).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("returns")
            await seat.sees("no test click yet; every pass begins with one", "press c")
            await seat.until(lambda: "−inf" not in levels(seat), "the levels never came")
            quiet = levels(seat)
            await seat.press_named("c")
            shown = await seat.sees("SENDING", "test click")
            assert "next: " not in shown
            await seat.until(lambda: levels(seat) != quiet, "the levels stood still")
            await seat.done()
            shown = await seat.sees("close", "room", "frames", "ms", "reference", "normal")
            assert seat.states["returns"] == "set"
            assert "nothing sounds" in shown
            delay = seat.desk.model.delay
            assert delay is not None
            for one in delay.returns:
                assert f"{one.delay_frames:.2f}" in shown
            await seat.fits_everywhere()
            await seat.press("o")
            await seat.sees("▲ stale", "stale: of another stream", "every pass measures again")
            await seat.done()
            await seat.press("o")
            await seat.until(lambda: seat.desk.model.opened, "it was not opened again")
            await seat.done()
            assert seat.states["returns"] == "stale"
            await seat.sees("▲ stale", "stale: of another stream")
            await seat.fits_everywhere()

    play(flow())


def test_a_microphone_that_is_not_there_is_said_in_words_and_a_closed_stream_sends_no_click(
    tmp_path: Path,
) -> None:
    dead = room(faults=({"kind": "dead cable", "input": 2},))
    folder = make_session(tmp_path, wiring=wired(dead)).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("returns")
            await seat.press_named("c")
            await seat.until(lambda: seat.desk.model.delay is not None, "no click was measured")
            await seat.done()
            assert seat.states["returns"] == "wrong"
            shown = await seat.sees("× wrong", "not heard")
            assert "close" in shown
            await seat.fits_everywhere()
            await seat.press("o")
            await seat.done()
            await seat.press("c")
            await seat.sees("▸send", "not yet: the stream is closed")
            assert not seat.desk.model.busy
            await seat.press("o")
            await seat.done()
            assert "not yet" not in await seat.sees("close stream")

    play(flow())
