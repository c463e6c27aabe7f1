"""Leaving in the middle of a pass: finish, stop and keep, leave it running, or stay."""

from __future__ import annotations

from pathlib import Path

import pytest
from accidents import wait_for
from needs import needs_samples
from rooms import RATE, make_session, room, wired
from screens import Seat, play, seated

from audio.session.folder import open_session
from audio.session.records import variants
from audio.vocab.variant import Variant
from tui.screens.face import Face

pytestmark = needs_samples()


def by_the_clock(folder: Path, seconds: float) -> Path:
    """Make a session whose passes take as long as they last."""
    return make_session(folder, wiring=wired(room(pace="clock")), seconds=seconds).folder


async def asked_while_rolling(seat: Seat) -> None:
    """Start a pass, and want to leave when half a second of its DI has left."""
    await seat.press("down", "space")
    await seat.wait(3.0)
    await seat.sees("ROLLING", "q leave")
    await seat.until(lambda: rolled_s(seat) > 0.5, "the DI never left")
    await seat.press("q")
    shown = await seat.sees("How do you want to leave?", "finish", "stop and keep", "stay")
    assert "leave it running" in shown
    assert "SENDING" in shown


def rolled_s(seat: Seat) -> float:
    """Return how long the roll under way has lasted."""
    status = seat.desk.status()
    return status.roll_frame / RATE if status is not None else 0.0


def only_variant(folder: Path) -> Variant:
    """Return the one variant of a session."""
    (one,) = variants(open_session(folder)).found
    return one


@pytest.mark.slow
def test_staying_goes_on_watching_and_finishing_leaves_when_the_whole_pass_is_judged(
    tmp_path: Path,
) -> None:
    folder = by_the_clock(tmp_path, 4.0)

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.press("down", "space")
            await seat.sees("COUNTDOWN")
            await seat.press("q")  # calls off what has not begun
            await seat.sees("called off; nothing sounded")
            assert not seat.gone
            await asked_while_rolling(seat)
            await seat.press("escape")
            await seat.sees("ROLLING", "SENDING")
            await seat.press("q", "f")
            await seat.sees("leaves when the pass is judged")
            assert not seat.gone
            await seat.until(lambda: seat.gone, "it did not leave when the pass was judged")

    play(flow())
    one = only_variant(folder)
    assert (one.state, one.verdict) == ("kept", "good")
    assert one.closing_click


@pytest.mark.slow
def test_stop_and_keep_leaves_with_what_was_recorded(tmp_path: Path) -> None:
    folder = by_the_clock(tmp_path, 6.0)

    async def flow() -> None:
        async with seated(folder) as seat:
            await asked_while_rolling(seat)
            await seat.fits_everywhere()
            await seat.press("k")
            await seat.until(lambda: seat.gone, "it did not leave")

    play(flow())
    one = only_variant(folder)
    assert one.state == "stopped"
    assert 0 < one.files[0].frames < 6.0 * RATE


@pytest.mark.slow
def test_a_pass_left_running_is_finished_by_the_engine_alone_and_judged_at_the_next_opening(
    tmp_path: Path,
) -> None:
    folder = by_the_clock(tmp_path, 3.0)
    taken = folder / "passes" / "riff" / "001"

    async def left() -> None:
        async with seated(folder) as seat:
            await asked_while_rolling(seat)
            await seat.press("a")
            await seat.until(lambda: seat.gone, "it did not leave at once")
            assert not (taken / "roll.json").exists()  # it still rolls

    async def still_playing() -> None:
        async with seated(folder, ready=False) as seat:
            shown = await seat.sees("riff 001 was left running and still plays", "s stops it")
            assert "SENDING" in shown
            await seat.fits_everywhere()
            await seat.press("space")
            assert seat.desk.model.countdown_s is None

    async def judged() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("variants")
            await seat.sees("▸ 001 bare path", "No closing click on close: none was played;")
            await seat.fits_everywhere()

    play(left())
    play(still_playing())
    wait_for((taken / "roll.json").exists, "the engine did not finish the pass")
    play(judged())
    one = only_variant(folder)
    assert one.state == "kept"
    assert one.files[0].frames >= 3.0 * RATE


def test_a_view_that_is_taken_away_while_it_is_being_made_draws_nothing(tmp_path: Path) -> None:
    folder = make_session(tmp_path, wiring=wired(room())).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.press("question_mark")
            view = seat.desk.screen
            assert isinstance(view, Face)
            await view.remove_children()  # as the library does where the program ends meanwhile
            view.draw()
            view.on_mount()

    play(flow())
