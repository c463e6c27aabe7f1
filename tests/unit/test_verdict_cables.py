from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    CLOSING,
    RATE,
    aligned,
    click,
    codes,
    later,
    measures,
    order,
    slip,
    the,
    verdict,
)

from audio.vocab.alignment import Alignment, Disturbance, Place
from audio.vocab.findings import Finding, worst
from audio.vocab.results import PassMeasures


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


# ------------------------------------------------------------------ for a moment only


def disturbance(kind: Any, *, at_s: float = 12.0, ms: float = 20.0) -> Disturbance:
    return Disturbance(at_frame=round(at_s * RATE), frames=round(ms * RATE / 1000), kind=kind)


def test_frames_that_were_put_back_are_told_once_and_so() -> None:
    found = held_still(slip(-64, at_s=3.0), slip(64, at_s=3.02))
    assert codes(found) == ["frames-slipped"]
    assert found[0].text == (
        "Frames slipped twice, first at 0:03.00 ± 0.01 s: 64 frames lost and 64 frames inserted, all in "
        "place again afterwards, by the witness."
    )


@pytest.mark.parametrize("name", ["loop", "witness"])
@pytest.mark.parametrize(
    ("kind", "weight", "words"),
    [
        (
            "moved",
            "redo",
            "Frames slipped and were put back within 20 ms at 0:12.00, no telling how many",
        ),
        ("silent", "redo", "Silence stood in the DI's place for 20 ms at 0:12.00"),
        ("strange", "look", "For 20 ms something else than the DI came back at 0:12.00"),
    ],
)
def test_what_was_disturbed_for_a_moment_is_named_with_its_place(
    name: str, kind: str, weight: str, words: str
) -> None:
    found = through(name, disturbances=(disturbance(kind),))
    assert codes(found) == ["frames-disturbed"]
    assert found[0].weight == weight
    assert found[0].text == f"{words}, by the {name}."
    assert found[0].at_s == pytest.approx(12.0)


def test_disturbances_of_a_kind_are_one_finding_and_kinds_are_several() -> None:
    there = (
        disturbance("strange", at_s=2.0),
        disturbance("silent", at_s=5.0),
        disturbance("strange", at_s=9.0, ms=40.0),
    )
    redo, look = through("loop", disturbances=there)
    assert (redo.weight, redo.at_s) == ("redo", pytest.approx(5.0))
    assert look.text.startswith(
        "For 40 ms something else than the DI came back twice, first at 0:02.00"
    )


def test_a_disturbance_hides_nothing_that_the_clicks_say() -> None:
    files = with_cable("witness", disturbances=(disturbance("strange"),))
    assert codes(verdict(files=files, closing=())) == ["frames-disturbed", "no-closing-click"]


def test_a_recording_that_was_followed_wrongly_has_no_disturbances_either() -> None:
    there = (disturbance("moved"),)
    files = with_cable("witness", slips=(slip(288, at_s=3.0),), disturbances=there)
    assert "frames-disturbed" not in codes(verdict(files=files))
