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
from audio.vocab.alignment import Alignment, Place
from audio.vocab.findings import Finding, worst
from audio.vocab.results import PassMeasures


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


# ------------------------------------------------------------------ loop and witness


def with_cable(name: str, **changes: Any) -> PassMeasures:
    return replace(measures(), **{name: aligned(**changes)})


def through(name: str, *, closing: Any = CLOSING, **changes: Any) -> tuple[Finding, ...]:
    """Judge a pass whose only cable is the loop or the witness, its clicks not read."""
    one = order(witness_click=None)
    return verdict(of=one, files=with_cable(name, **changes), closing=closing, witness=None)


@pytest.mark.parametrize("name", ["loop", "witness"])
def test_a_cable_that_is_whole_says_nothing(name: str) -> None:
    assert through(name) == ()


@pytest.mark.parametrize("name", ["loop", "witness"])
@pytest.mark.parametrize("frames", [-512, -1, 1, 300])
def test_a_cable_finds_a_single_frame_and_its_place(name: str, frames: int) -> None:
    found = the("frames-slipped", through(name, slips=(slip(frames, at_s=12.5),)))
    assert found.weight == "redo"
    assert found.at_s == pytest.approx(12.5)
    assert f"by the {name}" in found.text
    assert ("inserted" if frames > 0 else "lost") in found.text
    assert "at 0:12.50" in found.text


def test_several_slips_are_one_finding_with_their_sums() -> None:
    slips = (slip(-64, at_s=20.0), slip(16, at_s=5.0), slip(-1, at_s=40.0))
    found = the("frames-slipped", through("loop", slips=slips))
    assert found.text == (
        "Frames slipped 3 times, first at 0:05.00 ± 0.01 s: 65 frames lost and 16 frames inserted, "
        "by the loop."
    )


def test_frames_lost_between_click_and_di_are_found_by_the_cable() -> None:
    at = 1123.0 - order().shift_frames  # the click's peak comes at 1123
    there = with_cable("witness", delay_frames=at + 7.0)
    slipped = click(delay_frames=1120.0 + 7.0)
    found = the("frames-slipped", verdict(files=there, closing=later(7.0), witness=slipped))
    assert found.at_s == 0.0
    assert "7 frames inserted" in found.text
    assert verdict(files=with_cable("witness", delay_frames=at)) == ()


def places(until_s: float) -> tuple[Place, ...]:
    at = (0.0, until_s / 2, until_s)
    return tuple(
        Place(at_frame=round(s * RATE), delay_frames=0.4, plus_minus_frames=0.1) for s in at
    )


@pytest.mark.parametrize(
    ("until_s", "code", "weight"),
    [(59.8, "frames-lost-outside", "look"), (40.0, "frames-slipped", "redo")],
)
def test_frames_lost_after_the_last_note_are_worth_a_look_if_it_was_looked_at_so_far(
    until_s: float, code: str, weight: str
) -> None:
    at = 1123.0 - order().shift_frames
    there = with_cable("witness", delay_frames=at, places=places(until_s))
    slipped = click(delay_frames=1120.0 - 480.0)
    found = verdict(files=there, closing=later(-480.0), witness=slipped)
    assert [(f.code, f.weight) for f in found] == [(code, weight)]


def test_a_cable_that_drifts_runs_on_two_clocks() -> None:
    found = the("clocks-drift", through("loop", drift_ppm=20.0, drift_plus_minus_ppm=0.1))
    assert found.weight == "redo"
    assert "57 frames" in found.text  # 19.9 ppm of 60 s at 48 kHz
    assert through("loop", drift_ppm=0.3, drift_plus_minus_ppm=0.1) == ()


def test_a_drift_that_the_cables_own_clicks_do_not_show_was_followed_wrongly() -> None:
    at = 1123.0 - order().shift_frames
    files = with_cable("witness", delay_frames=at, drift_ppm=20.0, drift_plus_minus_ppm=0.1)
    assert verdict(files=files) == ()


def test_a_drift_within_its_uncertainty_is_none() -> None:
    assert through("loop", drift_ppm=20.0, drift_plus_minus_ppm=25.0) == ()


def test_the_loop_overrules_the_witness_and_both_the_music() -> None:
    slips = (slip(300),)
    clean, broken = aligned(), aligned(slips=slips)
    one = order(witness_click=None)
    for files in (
        replace(measures(), loop=clean, witness=broken),
        replace(measures(), loop=clean, music=broken),
        replace(measures(), witness=clean, music=broken),
    ):
        assert verdict(of=one, files=files, witness=None) == ()
    music_only = replace(measures(), music=broken)
    assert codes(verdict(of=one, files=music_only, closing=(), witness=None))[0] == "frames-slipped"


def test_clicks_that_disagree_are_no_damage_where_a_cable_is_whole() -> None:
    found = through("loop", closing=later(300.0))
    assert codes(found) == ["click-moved"]
    assert worst(found) == "look"


def test_a_cable_that_is_not_sure_of_itself_proves_nothing() -> None:
    found = through("loop", confidence=0.4, slips=(slip(300),))
    assert found == ()
    refused = replace(measures(), loop=Alignment(delay_frames=None, reason="silent"))
    assert verdict(of=order(witness_click=None), files=refused, witness=None) == ()


def held_still(*slips: Any, by: float = 0.0, start: float = 0.0) -> tuple[Finding, ...]:
    """Judge a witness's recording beside its own clicks, which moved by so much in all."""
    at = 1123.0 - order().shift_frames + start
    files = with_cable("witness", delay_frames=at, slips=slips)
    moved = click(delay_frames=1120.0 + by)
    return verdict(files=files, closing=later(by) if by else CLOSING, witness=moved)


def test_slips_that_the_cables_own_clicks_do_not_bear_out_were_followed_wrongly() -> None:
    assert held_still(slip(288, at_s=3.0), slip(-286, at_s=20.0)) == ()
    assert held_still(slip(-288, at_s=3.0), start=288.0) == ()
    assert held_still(slip(288, at_s=3.0), slip(-288, at_s=20.0)) == ()


def test_slips_that_the_cables_own_clicks_bear_out_are_placed() -> None:
    found = held_still(slip(300, at_s=3.0), slip(-36, at_s=20.0), by=264.0)
    assert codes(found) == ["frames-slipped"]
    assert "300 frames inserted" in found[0].text


def test_what_both_directions_lost_at_once_comes_and_goes() -> None:
    found = held_still(slip(64, at_s=3.0), slip(-64, at_s=3.03))
    assert the("frames-slipped", found).at_s == pytest.approx(3.0)


def test_clicks_of_a_cable_that_slipped_are_damage_even_where_its_recording_was_followed_wrongly() -> (
    None
):
    found = held_still(slip(288, at_s=3.0), by=-64.0)
    assert codes(found) == ["frames-slipped"]
    assert "64.00 frames earlier" in found[0].text


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


@given(
    st.lists(
        st.builds(
            slip,
            st.integers(-(10**5), 10**5).filter(bool),
            at_s=st.floats(0, 60),
            within=st.integers(0, 10**5),
        ),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from(["loop", "witness"]),
)
def test_any_slip_on_a_cable_is_to_be_redone_at_the_first_one(slips: list[Any], name: str) -> None:
    found = the("frames-slipped", through(name, slips=tuple(slips)))
    assert found.weight == "redo"
    assert found.at_s == pytest.approx(min(s.at_frame for s in slips) / RATE)
