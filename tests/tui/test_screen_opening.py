"""The first picture, where the cursor starts, and what opens below each stage."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from needs import needs_samples
from rooms import make_session, room, wired
from screens import assert_fits, play, seated

from audio.jobs.runner import Runner
from audio.session.folder import create

pytestmark = needs_samples()

CHAINS = {"crunch": ({"kind": "drive", "drive_db": 12.0},)}


def test_the_path_is_there_before_the_session_and_the_cursor_starts_where_something_is_missing(
    tmp_path: Path,
) -> None:
    folder = make_session(
        tmp_path, wiring=wired(room(chains=CHAINS)), parts=("riff", "hook")
    ).folder
    may_come = threading.Event()

    def bring() -> Runner:
        assert may_come.wait(30)
        return Runner(folder, program="secondpass open")

    async def flow() -> None:
        async with seated(folder, bring=bring, ready=False) as seat:
            shown = await seat.sees("DI", "variants", "opening", "nothing sounds")
            assert "riff" not in shown
            await seat.press("space", "s", "c", "o", "e", "n", "escape")  # nothing is there yet
            assert_fits(seat.desk)
            may_come.set()
            await seat.sees("riff", "■ set", "simulated room")
            await seat.until(lambda: seat.desk.model.opened, "the simulated stream did not open")
            await seat.until(lambda: len(seat.desk.model.dis) == 2, "a DI was not read")
            await seat.done()
            assert seat.desk.path_screen.here == "chain"
            assert seat.states["DI"] == seat.states["send"] == "set"
            shown = await seat.sees("▸chain", "□ not set", "bare path", "crunch")
            assert "say what is plugged in" in shown
            await seat.fits_everywhere()

    play(flow())


BELOW = {
    "DI": ("low water", "▸ riff", "hook", "0:01", "peak", "dBFS"),
    "send": ("output 3", "simulated room", "44100 Hz", "open", "Standby before the stream opens"),
    "chain": ("What is plugged in now?", "bare path", "crunch"),
    "amp": ("silence", "not set", "never lift the mains"),
    "mics": ("polarity", "not set", "Standby before you go near the speaker"),
    "returns": ("close", "room", "test click"),
    "variants": ("numbered variant", "press space"),
}


@pytest.mark.slow
def test_each_stage_opens_below_with_its_own_words_and_a_mouse_walks_there_too(
    tmp_path: Path,
) -> None:
    folder = make_session(
        tmp_path, wiring=wired(room(chains=CHAINS)), parts=("riff", "hook")
    ).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            for name, words in BELOW.items():
                await seat.walk_to(name)
                shown = await seat.sees(f"▸{name}", *words)
                assert "? keys" in shown
                assert "nothing sounds" in shown
                await seat.fits_everywhere()
            await seat.press("right")  # the path ends here
            assert seat.desk.path_screen.here == "variants"
            cell = (80 - 1) // 7
            for at, name in enumerate(BELOW):
                await seat.pilot.click(offset=(2 + at * cell, 1))
                await seat.sees(f"▸{name}")

    play(flow())


def test_an_empty_session_says_what_to_do_first(tmp_path: Path) -> None:
    folder = create(tmp_path / "new", name="tomorrow", song="first song").folder

    async def flow() -> None:
        async with seated(folder) as seat:
            assert seat.desk.path_screen.here == "DI"
            shown = await seat.sees("▸DI", "This session has none yet", "secondpass add")
            assert str(folder) in shown
            await seat.press("space")
            await seat.sees("not yet: the session has no DI yet")
            assert not seat.desk.model.busy
            await seat.fits_everywhere()
            await seat.walk_to("send")
            await seat.sees("press w to choose the device", "no wiring yet", "w wiring")
            await seat.fits_everywhere()

    play(flow())
