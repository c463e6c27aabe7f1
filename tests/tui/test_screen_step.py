"""A step of the set-up on the screen: begun by a press, counted down, told with figures, walked past."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace
from needs import needs_samples
from rooms import make_session, room, wired
from screens import play, seated

from audio.session.folder import open_session
from audio.session.setups import setups
from audio.vocab.setup import Row
from tui.present.target import BEFORE, BEHIND, INSIDE, MARK, OUTSIDE, band_columns, target_bar

pytestmark = needs_samples()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_session(tmp_path, wiring=wired(room())).folder


@pytest.mark.slow
def test_a_step_is_measured_by_two_presses_after_the_countdown_and_the_path_shows_it(
    folder: Path,
) -> None:
    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("mics")
            await seat.press("m")
            await seat.sees("POLARITY", "step 5 of 7", "not set", "enter measure", "nothing sounds")
            await seat.press("enter")
            await seat.sees("in 3 s", "Ears away", "enter call off", "nothing sounds")
            await seat.wait(3.1)
            await seat.sees("SET", "record 1", "reference", "enter measure again")
            await seat.fits_everywhere()
            await seat.press("escape")
            await seat.sees("▸mics", "■ set", "polarity")

    play(flow())
    assert [one.step for one in setups(open_session(folder)).found] == ["polarity"]


def test_the_countdown_is_called_off_by_the_same_key_and_nothing_is_measured(folder: Path) -> None:
    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("mics")
            await seat.press("m", "enter")
            await seat.sees("in 3 s")
            await seat.press("enter")
            await seat.sees("POLARITY", "called off; nothing sounded")

    play(flow())
    assert setups(open_session(folder)).found == ()


def test_steps_are_walked_past_in_their_order_and_the_walk_ends_at_both_ends(folder: Path) -> None:
    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("returns")
            await seat.press("m")
            await seat.sees("RETURN GAIN", "step 4 of 7")
            await seat.press("right", "right")
            await seat.sees("DELAY", "step 6 of 7", "patched")
            await seat.press("right", "right")
            await seat.sees("SOUND", "step 7 of 7", "its name")
            await seat.press(*["left"] * 8)
            await seat.sees("WIRE", "step 1 of 7")

    play(flow())


def test_what_a_step_is_told_is_typed_and_a_word_that_cannot_be_is_refused(folder: Path) -> None:
    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("returns")
            await seat.press("m", "right", "right", "n")
            await seat.sees("input to which a cable leads")
            await seat.press("x", "enter")
            await seat.sees("DELAY", "patched", "x")
            await seat.press("enter")
            await seat.sees("'x' is no input")
            await seat.press("escape")
            await seat.sees("DELAY", "nothing sounds")

    play(flow())


# ------------------------------------------------------------------ the bar

ROW = Row(name="DI in 1", value=0.0, unit="dB", low=-0.5, high=0.5)


def test_the_target_is_the_middle_third_and_the_mark_lies_where_the_figure_does() -> None:
    bar = target_bar(ROW, 27)
    assert len(bar) == 27
    assert bar[13] == MARK
    assert bar[:9] == OUTSIDE * 9
    assert bar[9:13] == INSIDE * 4


def test_a_figure_beyond_the_bar_is_an_arrow_at_its_end() -> None:
    assert target_bar(replace(ROW, value=-6.0), 27)[0] == BEFORE
    assert target_bar(replace(ROW, value=6.0), 27)[-1] == BEHIND


def test_a_figure_that_is_not_known_leaves_the_target_and_no_mark() -> None:
    assert MARK not in target_bar(replace(ROW, value=None), 27)


def test_without_both_ends_of_a_target_there_is_no_bar() -> None:
    assert target_bar(replace(ROW, high=None), 27) == ""


# ------------------------------------------------------------------ bands


def test_bands_are_columns_half_high_where_nothing_changed_and_full_at_three_decibels() -> None:
    drawn = band_columns((0.0, 0.1, -0.1, -3.0, 3.0, 9.0, -9.0, None))
    assert drawn == "▄▄▄▁▇▇▁ "
