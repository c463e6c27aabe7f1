from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    CLOSING,
    RATE,
    SILENT,
    WITNESS,
    aligned,
    click,
    codes,
    ended,
    later,
    measures,
    order,
    slip,
    the,
    unheard,
    verdict,
)

from audio.verdict.passes import judge
from audio.vocab.findings import Finding, worst


@pytest.mark.parametrize("frames", [-512.0, -1.0, 1.0, 300.0])
def test_sharp_clicks_a_frame_apart_mean_frames_went_missing_or_came_in(frames: float) -> None:
    found = verdict(closing=later(frames), witness=None)
    assert codes(found) == ["frames-slipped"]
    assert found[0].weight == "redo"
    assert ("inserted" if frames > 0 else "lost") in found[0].text


def test_clicks_within_their_uncertainty_say_nothing() -> None:
    assert verdict(closing=later(0.2), witness=None) == ()


def test_a_moving_chain_is_no_damage() -> None:
    found = verdict(closing=later(40.0, spread_frames=12.0), witness=None)
    assert codes(found) == ["chain-moves"]
    assert found[0].weight == "good"
    assert "only the counters are left as evidence" in found[0].text


def test_a_blurred_difference_is_worth_a_look_only() -> None:
    found = verdict(closing=later(3.0, peak_plus_minus_frames=2.0), witness=None)
    assert [f.weight for f in found] == ["look"]


def test_music_without_a_step_clears_clicks_that_cannot_tell() -> None:
    files = replace(measures(), music=aligned())
    blurred = later(3.0, peak_plus_minus_frames=2.0)
    found = verdict(files=files, closing=blurred, witness=None)
    assert [(f.code, f.weight) for f in found] == [("click-moved", "good")]


def test_the_witness_proves_a_slip_that_the_chain_blurs() -> None:
    slipped = click(delay_frames=1120.0 + 64.0)
    found = verdict(closing=later(64.0, spread_frames=12.0), witness=slipped)
    assert codes(found) == ["frames-slipped", "chain-moves"]


def test_a_steady_witness_clears_the_engine_of_a_moved_microphone() -> None:
    found = verdict(closing=later(15.0))
    assert codes(found) == ["click-moved"]
    assert found[0].weight == "look"
    assert verdict(closing=later(9.0))[0].weight == "good"  # 6 cm: nobody has to look at that


def test_a_peak_that_moves_alone_is_no_moved_microphone() -> None:
    peak = tuple(replace(r, peak_delay_frames=(r.peak_delay_frames or 0.0) + 40.0) for r in CLOSING)
    found = verdict(closing=peak)
    assert [(f.code, f.weight) for f in found] == [("click-moved", "good")]


def test_a_microphone_that_moved_alone_is_no_lost_frame() -> None:
    moved = (later(3.0)[0], CLOSING[1])
    assert codes(verdict(closing=moved, witness=None)) == ["click-moved"]


@given(st.floats(-2000, 2000))
def test_a_slip_seen_by_every_sharp_reading_is_never_good(frames: float) -> None:
    found = verdict(closing=later(frames), witness=click(delay_frames=1120.0 + frames))
    if abs(frames) >= 1.0:
        assert worst(found) == "redo"


def test_a_missing_closing_click_is_worth_a_look_when_the_opening_one_was_clear() -> None:
    assert the("no-closing-click", verdict(closing=(), witness=None)).weight == "look"
    lost = verdict(closing=(SILENT, SILENT), witness=None)
    assert "nothing clear of the noise" in the("no-closing-click", lost).text


def test_a_pass_stopped_by_hand_owes_no_closing_click() -> None:
    end = ended(reason="stopped", frames=25_131 + 31 * RATE)
    found = verdict(end=end, files=measures(seconds=31.0), closing=(), witness=None)
    assert codes(found) == ["stopped", "no-closing-click"]
    assert worst(found) == "look"  # part of it is missing: not a finished one
    assert found[0].text == "Stopped by hand, kept until 0:31."


# ------------------------------------------------------------------ music


def by_music(closing: Any = (), opening: Any = CLOSING, **changes: Any) -> tuple[Finding, ...]:
    files = replace(measures(), music=aligned(plus_minus_frames=1.0, **changes))
    one = order(opening_click=opening, witness_click=None)
    return verdict(of=one, files=files, closing=closing, witness=None)


def test_without_closing_click_or_cable_the_music_finds_a_slip_and_its_place() -> None:
    found = by_music(slips=(slip(480, at_s=31.0, within=24_000),))
    assert codes(found) == ["frames-slipped", "no-closing-click"]
    assert found[0].at_s == pytest.approx(31.0)
    assert "± 0.50 s" in found[0].text
    assert "by the music" in found[0].text


def test_a_closing_click_that_agrees_overrules_the_music() -> None:
    assert by_music(closing=CLOSING, slips=(slip(480),)) == ()


def test_sharp_clicks_that_slipped_are_placed_by_the_music() -> None:
    found = by_music(closing=later(480.0), slips=(slip(480, at_s=31.0),))
    assert codes(found) == ["frames-slipped"]
    assert found[0].at_s == pytest.approx(31.0)


def test_music_that_is_not_sure_finds_no_slip() -> None:
    assert worst(by_music(confidence=0.5, slips=(slip(480),))) == "look"  # no closing click is left
    assert "frames-slipped" not in codes(by_music(confidence=0.5, slips=(slip(480),)))


def test_music_that_wanders_within_one_stream_is_the_chain() -> None:
    assert worst(by_music(drift_ppm=30.0)) == "good"


def test_a_step_in_the_music_of_a_moving_chain_is_damage_beyond_its_sway() -> None:
    swaying = tuple(
        replace(r, spread_frames=12.0, arrivals=(1120.0, None, 1152.0)) for r in CLOSING
    )
    moved = later(20.0, spread_frames=12.0)
    assert "frames-slipped" not in codes(
        by_music(closing=moved, opening=swaying, slips=(slip(20),))
    )
    found = by_music(closing=moved, opening=swaying, slips=(slip(480),))
    assert the("frames-slipped", found).weight == "redo"


def test_steps_within_the_sway_of_a_chain_whose_clicks_contradict_are_the_pedal() -> None:
    lost = (unheard("unclear"), unheard("unclear"))
    swaying = (slip(9, at_s=0.4), slip(-12, at_s=2.6), slip(10, at_s=4.0))
    assert "frames-slipped" not in codes(by_music(opening=lost, slips=swaying))
    assert "frames-slipped" in codes(by_music(opening=lost, slips=(slip(512),)))


def test_music_that_covers_the_end_makes_a_missing_closing_click_a_word() -> None:
    found = by_music()
    assert codes(found) == ["no-closing-click"]
    assert worst(found) == "good"
    assert "the music is the evidence" in found[0].text


# ------------------------------------------------------------------ which proof was used


def proof(**changes: Any) -> str:
    one = order(witness_click=None)
    closing = changes.pop("closing", CLOSING)
    return judge(one, ended(one), replace(measures(), **changes), closing).proof


def test_the_strongest_evidence_is_named() -> None:
    sure = aligned()
    assert proof(loop=sure, witness=sure, music=sure) == "loop"
    assert proof(witness=sure, music=sure) == "witness"
    assert proof(music=sure) == "clicks"
    assert proof(music=sure, closing=()) == "music"
    assert proof(music=sure, closing=later(0.1, spread_frames=12.0)) == "music"
    assert proof(music=aligned(confidence=0.5), closing=()) == "counters"
    assert proof(closing=()) == "counters"


def test_clicks_on_a_cable_prove_as_much_as_its_recording() -> None:
    found = judge(order(), ended(), measures(), CLOSING, closing_witness=WITNESS)
    assert found.proof == "witness"
    one = order(loop_click=click(delay_frames=1120.0))
    loop = judge(one, ended(), measures(), CLOSING, closing_loop=one.loop_click)
    assert loop.proof == "loop"
