from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import SILENT, WIRING, click, heard, unheard

from audio.verdict.clicks import Heard, Placement, explain, heard_enough, placement
from audio.verdict.thresholds import CHAIN_REMOVED_MS, SNR_GOAL_DB
from audio.vocab.findings import Finding, worst
from audio.vocab.results import ClickReading
from audio.vocab.wiring import Return

BARE = Placement(delay_frames=1131.4, plus_minus_frames=0.02, source="earlier pass")


def codes(findings: tuple[Finding, ...]) -> set[str]:
    return {f.code for f in findings}


def the(code: str, findings: tuple[Finding, ...]) -> Finding:
    return next(f for f in findings if f.code == code)


def test_a_healthy_click_says_nothing() -> None:
    assert explain(heard()) == ()


# ------------------------------------------------------------------ raising


def test_the_click_is_raised_until_the_goal_at_the_reference() -> None:
    quiet = heard(level_dbfs=-40.0, close=click(snr_db=SNR_GOAL_DB - 0.1))
    assert not heard_enough(quiet)
    assert heard_enough(heard(level_dbfs=-40.0, close=click(snr_db=SNR_GOAL_DB)))


def test_a_loud_room_does_not_end_the_raising_for_a_faint_reference() -> None:
    assert not heard_enough(heard(level_dbfs=-40.0, close=SILENT, room=click(snr_db=60.0)))


def test_the_ceiling_ends_the_raising_even_unheard() -> None:
    assert heard_enough(heard(level_dbfs=-12.0, close=SILENT, room=SILENT))


@pytest.mark.parametrize(
    "spoiled",
    [
        {"close": unheard("clipped")},
        {"close": click(snr_db=20.0), "room": unheard("clipped")},
        {"close": click(snr_db=20.0, peak_dbfs=-5.0)},
        {"close": unheard("digital silence")},
        {"close": SILENT, "in7": click()},
        {
            "close": click(snr_db=20.0),
            "witness": click(delay_frames=1120.0, repeats_frames=400.0),
        },
    ],
    ids=["clipped", "other clipped", "near full scale", "dead input", "wrong input", "fed back"],
)
def test_more_level_is_not_asked_for_where_it_gains_nothing_or_harms(
    spoiled: dict[str, ClickReading],
) -> None:
    assert heard_enough(heard(level_dbfs=-40.0, **spoiled))


def test_a_compressor_that_holds_the_click_ends_the_raising() -> None:
    before = heard(level_dbfs=-34.0, close=click(snr_db=30.0))
    held = heard(level_dbfs=-28.0, close=click(snr_db=30.6))
    rising = heard(level_dbfs=-28.0, close=click(snr_db=36.0))
    assert heard_enough(held, before=before)
    assert not heard_enough(rising, before=before)


@given(st.floats(-20, 80), st.floats(0, 40), st.floats(-60, -12))
def test_a_better_heard_click_never_needs_more_raising(
    snr: float, more: float, level: float
) -> None:
    worse = heard_enough(heard(level_dbfs=level, close=click(snr_db=snr)))
    better = heard_enough(heard(level_dbfs=level, close=click(snr_db=snr + more)))
    assert better >= worse


# ------------------------------------------------------------------ placement


def test_the_opening_click_places_when_there_is_no_bare_path() -> None:
    got = placement(heard())
    assert (got.delay_frames, got.source, got.chain_adds_frames) == (1131.4, "opening click", None)


def test_an_unheard_reference_falls_back_to_an_earlier_placement_or_none() -> None:
    lost = heard(close=SILENT)
    assert placement(lost, earlier=BARE) == BARE
    assert placement(lost).source == "none"
    assert placement(lost).delay_frames is None


def test_a_digital_pedals_delay_is_removed_and_told() -> None:
    got = placement(heard(close=click(delay_frames=1131.4 + 67.2)), bare=BARE)
    assert got.source == "opening click"
    assert got.delay_frames == pytest.approx(1198.6)
    assert got.chain_adds_frames == pytest.approx(67.2)


def test_a_delay_over_ten_milliseconds_is_music_and_stays_late() -> None:
    late = CHAIN_REMOVED_MS * 48 + 1
    got = placement(heard(close=click(delay_frames=1131.4 + late)), bare=BARE)
    assert got.delay_frames == BARE.delay_frames
    assert got.chain_adds_frames == pytest.approx(late)


def test_a_click_that_is_blurred_but_no_later_lies_where_the_bare_path_does() -> None:
    late = click(delay_frames=1131.4 + 1.1, plus_minus_frames=1.9)
    got = placement(heard(close=late), bare=BARE)
    assert (got.delay_frames, got.chain_adds_frames) == (BARE.delay_frames, 0.0)
    assert got.plus_minus_frames == 1.9, "no surer than its own click"
    assert got.source == "opening click"


def test_a_moving_chain_is_placed_by_the_bare_path() -> None:
    got = placement(heard(close=click(delay_frames=1190.0, spread_frames=6.0)), bare=BARE)
    assert got == replace(BARE, source="bare path")


def test_a_click_before_the_bare_path_disproves_that_figure() -> None:
    got = placement(heard(close=click(delay_frames=900.0)), bare=BARE)
    assert (got.delay_frames, got.source) == (900.0, "opening click")


@pytest.mark.parametrize(("peak", "source"), [(1140.0, "bare path"), (1122.0, "opening click")])
def test_a_click_whose_peak_is_not_earlier_was_blurred_and_lies_where_the_bare_path_does(
    peak: float, source: str
) -> None:
    bare = replace(BARE, peak_frames=1133.0)
    early = click(delay_frames=1131.4 - 11.0, plus_minus_frames=3.5, peak_delay_frames=peak)
    got = placement(heard(close=early), bare=bare)
    assert got.source == source
    assert got.delay_frames == (BARE.delay_frames if source == "bare path" else 1131.4 - 11.0)


# ------------------------------------------------------------------ why it was not heard


def test_a_witness_that_heard_it_clears_the_send() -> None:
    found = explain(heard(close=SILENT, room=SILENT))
    assert codes(found) == {"nothing-came-back"}
    assert "from the first pedal on" in found[0].text
    assert all(w in found[0].advice for w in ("standby", "volume pedal", "tuner", "cable"))
    assert worst(found) == "redo"


def test_a_witness_that_heard_nothing_blames_the_send() -> None:
    found = explain(heard(close=SILENT, room=SILENT, witness=SILENT))
    assert codes(found) == {"send-dead"}
    assert "output 3" in found[0].advice
    assert "reamp box" in found[0].advice


def test_without_a_witness_both_sides_are_named() -> None:
    wiring = replace(WIRING, witness_input=None)
    silent = replace(
        heard(close=SILENT, room=SILENT), wiring=wiring, readings={2: SILENT, 3: SILENT}
    )
    found = explain(silent)
    assert codes(found) == {"nothing-came-back"}
    assert "reamp box" in found[0].advice
    assert "standby" in found[0].advice


def test_a_click_on_another_input_names_both_inputs() -> None:
    found = explain(heard(close=SILENT, in7=click()))
    assert found[0].text == "The click came back on input 7; the wiring says 2 for close."
    assert codes(found) == {"wrong-input"}


def test_witness_and_loop_are_no_wrong_inputs() -> None:
    assert "wrong-input" not in codes(explain(heard(close=SILENT, room=SILENT)))


def test_one_silent_microphone_is_not_blamed_on_the_chain() -> None:
    found = explain(heard(room=SILENT))
    assert codes(found) == {"return-silent"}
    assert found[0].weight == "look"
    assert "room heard nothing" in found[0].text
    assert the("return-silent", explain(heard(close=SILENT))).weight == "redo"


@pytest.mark.parametrize(
    ("reason", "code", "weight"),
    [
        ("digital silence", "input-dead", "redo"),
        ("only hum", "only-hum", "redo"),
        ("clipped", "click-clipped", "redo"),
        ("unclear", "clicks-contradict", "look"),
    ],
)
def test_each_reason_of_the_reference_has_its_word(reason: str, code: str, weight: str) -> None:
    found = explain(heard(close=unheard(reason, hum_hz=50, hum_dbfs=-41.2)))
    assert the(code, found).weight == weight


def test_hum_advice_keeps_the_mains_earth() -> None:
    found = the("only-hum", explain(heard(close=unheard("only hum", hum_hz=60, hum_dbfs=-41.2))))
    assert "(60 Hz, −41 dBFS)" in found.text
    assert "never lift the mains safety earth" in found.advice


def test_a_silent_witness_beside_answering_microphones_is_worth_a_look() -> None:
    found = explain(heard(witness=SILENT))
    assert codes(found) == {"witness-silent"}
    assert worst(found) == "look"


@pytest.mark.parametrize("polarity", ["unsure", "inverted", "normal"])
def test_polarity_alone_is_never_a_fault(polarity: str) -> None:
    assert worst(explain(heard(close=click(polarity=polarity)))) == "good"
    assert not explain(
        heard(close=click(polarity="unsure"), room=click(delay_frames=1350.2, polarity=polarity))
    )


def test_one_microphone_upside_down_against_another_is_told() -> None:
    found = explain(heard(room=click(delay_frames=1350.2, polarity="inverted")))
    assert found[0].text.startswith("room comes back upside down against close")
    assert found[0].weight == "good"


def test_swapped_microphones_show_by_who_hears_first() -> None:
    found = explain(heard(close=click(delay_frames=1350.2), room=click(delay_frames=1131.4)))
    assert the("reference-not-first", found).weight == "look"
    assert "4.6 ms" in found[0].text  # 218.8 frames at 48 kHz


def test_hum_on_several_returns_is_told_once() -> None:
    hum = unheard("only hum", hum_hz=50, hum_dbfs=-41.2)
    found = explain(heard(close=hum, room=hum))
    assert codes(found) == {"only-hum"}
    assert len(found) == 1


def test_scattering_clicks_are_told_although_they_have_a_delay() -> None:
    found = explain(heard(close=click(spread_frames=8.1)))
    assert the("chain-moves", found).weight == "look"


def test_a_click_under_hum_is_not_answered_with_more_gain() -> None:
    found = explain(heard(close=click(snr_db=12.0, hum_hz=50, hum_dbfs=-30.0)))
    assert the("click-faint", found).weight == "good"
    assert "ground lift" in found[0].advice


# ------------------------------------------------------------------ feedback and echoes


def without_witness(**readings: ClickReading) -> Heard:
    full = heard(**readings)
    by_input = {i: r for i, r in full.readings.items() if i != 5}
    return replace(full, wiring=replace(WIRING, witness_input=None), readings=by_input)


def test_a_repeat_at_the_round_trip_is_feedback() -> None:
    found = explain(without_witness(close=click(repeats_frames=1133.0)))
    assert the("fed-back", found).weight == "redo"
    assert "direct monitoring" in found[0].advice


@given(st.floats(1.0, 96_000.0))
def test_an_echo_at_any_other_distance_is_never_called_feedback(repeats: float) -> None:
    found = explain(without_witness(close=click(repeats_frames=repeats)))
    assert ("fed-back" in codes(found)) == (abs(repeats - 1131.4) <= 12.0)  # 0.25 ms at 48 kHz


def test_a_repeat_sooner_than_the_round_trip_asks_about_direct_monitoring() -> None:
    # Round the interface's mixer the computer's buffers are spared; a slapback may be as short.
    found = explain(without_witness(close=click(repeats_frames=747.4)))
    assert codes(found) == {"repeats-early"}
    assert found[0].weight == "look"
    assert "15.6 ms" in found[0].text
    # The first click in a witness is far stronger than what comes round: it clears nothing.
    assert codes(explain(heard(close=click(repeats_frames=747.4)))) == {"repeats-early"}


def test_a_repeating_witness_proves_feedback_through_the_interfaces_mixer() -> None:
    found = explain(heard(witness=click(delay_frames=1120.0, repeats_frames=96.0)))
    assert codes(found) == {"fed-back"}


# ------------------------------------------------------------------ names, numbers


READINGS = st.one_of(
    st.builds(
        click,
        delay_frames=st.floats(0, 1e5),
        plus_minus_frames=st.none() | st.floats(0, 1e3),
        spread_frames=st.none() | st.floats(0, 1e3),
        snr_db=st.none() | st.floats(-20, 120),
        polarity=st.sampled_from(["normal", "inverted", "unsure"]),
        repeats_frames=st.none() | st.floats(0, 1e5),
        peak_dbfs=st.floats(-200, 0),
    ),
    st.builds(
        unheard,
        st.sampled_from(["nothing", "digital silence", "only hum", "unclear", "clipped"]),
        hum_hz=st.none() | st.sampled_from([50, 60]),
        hum_dbfs=st.none() | st.floats(-200, 0),
    ),
)


@given(close=READINGS, room=READINGS, witness=READINGS, in7=READINGS)
def test_no_message_ever_holds_a_missing_figure(**readings: ClickReading) -> None:
    for finding in explain(heard(**readings)):  # type: ignore[arg-type]
        assert not re.search(r"\bNone\b|\bnan\b|\binf\b", finding.text + finding.advice)
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", finding.code)


@given(close=READINGS, room=READINGS, witness=READINGS)
def test_an_unheard_reference_always_has_a_reason(**readings: ClickReading) -> None:
    one = heard(**readings)
    if one.reference.delay_frames is None:
        assert worst(explain(one)) != "good"


@given(st.text(min_size=1).filter(str.strip))
def test_names_pass_through_as_given(name: str) -> None:
    wiring = replace(
        WIRING, returns=(Return(name=name, input=2), Return(name="room", input=3)), reference=name
    )
    found = explain(replace(heard(close=SILENT), wiring=wiring))
    assert found[0].text.startswith(name)
