"""Where a pass lands: *d* and *D*, over everything the opening click may say."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from session_cases import variant
from verdict_cases import WIRING, click, unheard

from audio.jobs.clicks import Click
from audio.jobs.originals import Lies
from audio.jobs.placing import Known, check_align_to, place
from audio.verdict.clicks import Heard, Placement
from audio.vocab.errors import UseError
from audio.vocab.messages import Ended
from audio.vocab.names import BARE_PATH
from audio.vocab.results import ClickReading, ClickTrain
from audio.vocab.variant import Variant
from audio.vocab.wiring import Loop, Wiring

TRAIN = ClickTrain(
    sample_rate=48_000, level_dbfs=-30, positions=(20_000,), signs=(1,), frames=96_000, quiet_frames=12_000
)  # fmt: skip


def heard(reference: ClickReading, *, wiring: Wiring = WIRING, loop: Any = None) -> Click:
    readings = {2: reference, 3: click(delay_frames=1400.0), 5: click(delay_frames=1100.0)}
    if loop is not None:
        readings[8] = loop
    return Click(
        heard=Heard(wiring=wiring, readings=readings, level_dbfs=-30, ceiling_dbfs=-12),
        train=TRAIN,
        idle_dbfs=dict.fromkeys(readings, -80.0),
        settled=Ended(roll_id=1, reason="quiet", stream_frame=0, frames=0),
    )


def shift(
    reference: ClickReading,
    *,
    newest: Variant | None = None,
    chain: str = "crunch",
    known: Known | None = None,
) -> Any:
    return place(
        heard(reference), chain=chain, known=known or Known(), newest=newest, wiring=WIRING
    )


@given(d=st.floats(10, 20_000), width=st.floats(0, 5))
def test_the_first_pass_of_a_part_takes_away_the_nearest_whole_frame(
    d: float, width: float
) -> None:
    placed = shift(click(delay_frames=d, plus_minus_frames=width))
    assert placed.frames == round(d)
    assert placed.residual_frames == pytest.approx(d - placed.frames)
    assert abs(placed.residual_frames) <= 0.5


@given(d=st.floats(100, 20_000), width=st.floats(0, 5), moved=st.floats(-8, 8))
def test_a_later_pass_stays_on_the_frame_of_the_one_before_while_it_may(
    d: float, width: float, moved: float
) -> None:
    earlier = replace(variant(), shift_frames=round(d))
    now = d + moved
    placed = shift(click(delay_frames=now, plus_minus_frames=width), newest=earlier)
    stays = abs(now - round(d)) <= 0.5 + width
    assert placed.frames == (round(d) if stays else round(now))
    assert abs(placed.residual_frames) <= 0.5 + width


def test_noise_around_a_half_frame_never_moves_a_file_by_one() -> None:
    newest: Variant | None = None
    frames = []
    for d in (1131.49, 1131.51, 1131.48, 1131.52):
        placed = shift(click(delay_frames=d, plus_minus_frames=0.03), newest=newest)
        frames.append(placed.frames)
        newest = replace(variant(), shift_frames=placed.frames)
    assert frames == [1131] * 4


def test_without_a_click_the_bare_path_stands_then_an_earlier_one_then_the_part() -> None:
    known = Known()
    known.learn(BARE_PATH, shift(click(delay_frames=1131.4), chain=BARE_PATH).placed)
    by_bare = shift(unheard("nothing"), known=known)
    assert (by_bare.frames, by_bare.placed.source) == (1131, "bare path")
    nothing = shift(unheard("nothing"), newest=replace(variant(), shift_frames=77))
    assert (nothing.frames, nothing.placed.source, nothing.residual_frames) == (77, "none", None)


def test_a_constant_addition_of_a_digital_pedal_is_taken_away_and_told() -> None:
    known = Known()
    known.learn(BARE_PATH, shift(click(delay_frames=1131.4), chain=BARE_PATH).placed)
    placed = shift(click(delay_frames=1131.4 + 67.2), known=known)
    assert placed.frames == round(1131.4 + 67.2)
    assert placed.placed.chain_adds_frames == pytest.approx(67.2)


def test_a_late_echo_is_music_and_stays_late() -> None:
    known = Known()
    known.learn(BARE_PATH, shift(click(delay_frames=1131.4), chain=BARE_PATH).placed)
    placed = shift(click(delay_frames=1131.4 + 0.3 * 48_000), known=known)
    assert placed.frames == 1131


def test_live_takes_away_the_converters_only() -> None:
    wiring = replace(WIRING, align_to="live", loop=Loop(output=8, input=8))
    sent = heard(click(delay_frames=1131.4), wiring=wiring, loop=click(delay_frames=980.0))
    placed = place(sent, chain="crunch", known=Known(), newest=None, wiring=wiring)
    assert placed.frames == 980


def test_original_leaves_the_return_as_late_as_the_original_is() -> None:
    wiring = replace(WIRING, align_to="original")
    lies = Lies(frames=61.3, plus_minus_frames=0.4)
    opening = heard(click(delay_frames=1131.4, plus_minus_frames=0.3), wiring=wiring)
    known = Known()
    placed = place(opening, chain=BARE_PATH, known=known, newest=None, wiring=wiring, original=lies)
    assert placed.frames == 1070
    assert placed.residual_frames == pytest.approx(0.1)
    assert placed.placed.plus_minus_frames == pytest.approx(0.5)
    assert known.bare is not None
    assert known.bare.delay_frames == 1131.4  # the round trip itself is the bare path's


def test_an_original_without_a_click_says_nothing_of_the_place() -> None:
    wiring = replace(WIRING, align_to="original")
    silent = heard(unheard("nothing"), wiring=wiring)
    lies = Lies(frames=61.3, plus_minus_frames=0.4)
    placed = place(silent, chain="crunch", known=Known(), newest=None, wiring=wiring, original=lies)
    assert placed.placed.delay_frames is None


def test_live_without_a_loop_is_refused_with_a_way_out() -> None:
    with pytest.raises(UseError, match="loop cable"):
        check_align_to(replace(WIRING, align_to="live"), patched=None)


PATCHED = Placement(delay_frames=643.4, plus_minus_frames=0.02, source="patched cable")


def test_live_without_a_loop_takes_what_a_patched_cable_proved() -> None:
    wiring = replace(WIRING, align_to="live", loop=None)
    check_align_to(wiring, patched=PATCHED)
    placed = place(
        heard(click(delay_frames=700.2)),
        chain="crunch",
        known=Known(),
        newest=None,
        wiring=wiring,
        patched=PATCHED,
    )
    assert (placed.frames, placed.placed.source) == (643, "patched cable")
