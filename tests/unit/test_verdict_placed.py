from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace
from verdict_cases import (
    CLOSING,
    SILENT,
    WIRING,
    aligned,
    click,
    codes,
    later,
    measures,
    order,
    the,
    unheard,
    verdict,
)

from audio.vocab.findings import worst


@pytest.mark.parametrize(
    ("source", "code"), [("earlier pass", "placed-by-earlier"), ("none", "not-placed")]
)
def test_a_pass_without_an_opening_click_is_worth_a_look(source: str, code: str) -> None:
    one = order(
        delay_source=source,
        delay_frames=None if source == "none" else 1131.4,
        opening_click=(unheard("only hum"), SILENT),
    )
    found = verdict(of=one, closing=(SILENT, SILENT), witness=None)
    assert codes(found) == [code]
    assert "only hum" in found[0].text
    assert found[0].weight == "look"


def test_a_chains_constant_delay_informs() -> None:
    found = verdict(of=order(chain_adds_frames=67.2))
    assert found[0].text == "This chain adds 1.40 ms, removed with the round trip."
    assert worst(found) == "good"
    assert verdict(of=order(chain_adds_frames=1.1)) == ()  # an analogue filter, 0.02 ms
    late = verdict(of=order(chain_adds_frames=16_320.0, delay_source="earlier pass"))
    assert codes(late) == ["chain-late"]


def test_a_placement_that_noise_leaves_open_is_worth_a_look() -> None:
    noisy = click(peak_plus_minus_frames=5.0, plus_minus_frames=5.6)
    one = order(opening_click=(noisy, CLOSING[1]), plus_minus_frames=5.6)
    found = verdict(of=one, closing=one.opening_click)
    assert [(f.code, f.weight) for f in found] == [("placement-loose", "look")]
    assert "± 5.6 frames (0.12 ms)" in found[0].text


def test_what_a_loudspeaker_smears_is_no_uncertainty_until_it_is_half_a_millisecond() -> None:
    assert verdict(of=order(plus_minus_frames=12.0)) == ()
    assert codes(verdict(of=order(plus_minus_frames=25.0))) == ["placement-loose"]


def test_swapped_cables_show_in_the_pass() -> None:
    one = order(opening_click=(click(delay_frames=1350.2), click(delay_frames=1131.4)))
    found = verdict(of=one, closing=one.opening_click)
    assert codes(found) == ["reference-not-first"]


# ------------------------------------------------------------------ what the music says of the place


def placed(*, late: float | None = 0.0, reason: str = "nothing", **changes: Any) -> Any:
    """Judge a pass whose opening click was not heard; its music lies so many frames late, or refuses."""
    one = order(
        **{
            "delay_source": "earlier pass",
            "opening_click": (unheard(reason), SILENT),
            "witness_click": None,
        }
        | changes
    )
    there = aligned(delay_frames=None, confidence=0.0, reason="no usable attack")
    if late is not None:
        there = aligned(delay_frames=0.4 + late, plus_minus_frames=1.0)
    return verdict(of=one, files=replace(measures(), music=there), closing=(), witness=None)


def test_music_that_agrees_confirms_an_earlier_placement() -> None:
    found = placed(late=3.0)
    assert worst(found) == "good"
    assert codes(found) == ["chain-gates", "placed-by-earlier"]
    assert "the music agrees" in found[1].text


@pytest.mark.parametrize("late", [-100.0, 100.0])
def test_music_elsewhere_is_worth_a_look_and_says_by_how_much(late: float) -> None:
    found = the("placed-elsewhere", placed(late=late))
    assert found.weight == "look"
    assert "100 frames" in found.text
    assert ("later" if late > 0 else "earlier") in found.text


def test_music_later_than_ten_milliseconds_stays_late() -> None:
    assert worst(placed(late=960.0)) == "good"
    assert "stays" in the("chain-late", placed(late=960.0)).text


def test_a_pass_that_nothing_places_but_the_music_says_where_it_lies() -> None:
    found = placed(late=1131.0, delay_source="none", delay_frames=None, shift_frames=0)
    assert "1131 frames later" in the("not-placed", found).text
    assert worst(found) == "look"


def test_clicks_that_contradict_leave_the_bare_path_in_its_right() -> None:
    found = placed(late=None, reason="unclear", delay_source="bare path")
    assert codes(found) == ["chain-moves"]
    assert worst(found) == "good"


def test_music_before_the_place_of_a_moving_chain_disproves_that_place() -> None:
    # A digital pedal was in the chain whose click placed it, and is not in this one.
    found = placed(late=-67.0, reason="unclear")
    assert the("placed-elsewhere", found).weight == "look"
    assert worst(placed(late=67.0, reason="unclear")) == "good"  # a vibrato's own delay is music
    assert worst(placed(late=None, reason="unclear")) == "good"


def test_an_unheard_click_that_nothing_confirms_is_worth_a_look_even_by_the_bare_path() -> None:
    found = placed(late=None, delay_source="bare path")
    assert the("placed-by-earlier", found).weight == "look"


def test_a_loose_placement_that_the_music_confirms_is_a_word() -> None:
    wide = order(plus_minus_frames=30.0)
    music = aligned(delay_frames=2.0, plus_minus_frames=3.0)
    found = verdict(of=wide, files=replace(measures(), music=music))
    assert the("placement-loose", found).weight == "good"
    blurred = aligned(delay_frames=2.0, plus_minus_frames=30.0)
    found = verdict(of=wide, files=replace(measures(), music=blurred))
    assert the("placement-loose", found).weight == "look"


def test_a_sharp_click_overrules_music_that_lies_elsewhere() -> None:
    music = aligned(delay_frames=400.0, plus_minus_frames=1.0)
    assert verdict(files=replace(measures(), music=music)) == ()


def test_the_air_before_a_live_placement_is_not_held_against_it() -> None:
    live = replace(WIRING, align_to="live")
    music = aligned(delay_frames=300.0, plus_minus_frames=1.0)
    one = order(wiring=live, plus_minus_frames=30.0)
    found = verdict(of=one, files=replace(measures(), music=music))
    assert codes(found) == ["placement-loose"]


@pytest.mark.parametrize("moved", [CLOSING, later(20.0, spread_frames=4.0)])
def test_a_chain_that_moves_says_which_evidence_there_is(moved: Any) -> None:
    swaying = tuple(replace(r, spread_frames=4.0) for r in CLOSING)
    one = order(opening_click=swaying, witness_click=None)
    for name, words in (
        ("loop", "the loop proves the frames"),
        ("witness", "the witness proves the frames"),
        ("music", "the music is the evidence"),
    ):
        files = replace(measures(), **{name: aligned()})
        found = verdict(of=one, files=files, closing=moved, witness=None)
        assert worst(found) == "good"
        assert words in the("chain-moves", found).text
