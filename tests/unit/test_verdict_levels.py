"""Send level and return gain in words; the witness that tells in a pass whether the send moved."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import WIRING, aligned, codes, earlier, measures, order, the, verdict

from audio.plan.setup import statuses, witness_gain_db
from audio.verdict.gained import (
    findings_of_return_gain,
    headline_of_return_gain,
    summary_of_return_gain,
    what_to_turn,
)
from audio.verdict.sent import (
    ONE_LEG_DB,
    WITHIN_DB,
    difference_db,
    findings_of_send_level,
    headline_of_send_level,
    summary_of_send_level,
    what_to_do,
)
from audio.verdict.sizes import MINIMUM_SIZES
from audio.vocab.findings import worst
from audio.vocab.looped import CopyBack, CycleLevels, Stretch
from audio.vocab.session_file import Part, Revision
from audio.vocab.setup import (
    BoxLevel,
    Outcome,
    ReturnGainResult,
    ReturnLevel,
    SendLevelResult,
    SetupRecord,
)
from audio.vocab.variant import Variant

COPY = CopyBack(gain_db=0.0, delay_frames=900, polarity="normal", highs_db=-0.4, peak_dbfs=-9.0)


def sent(**changes: Any) -> SendLevelResult:
    usual: dict[str, Any] = {
        "method": "loop",
        "di_input": 1,
        "cable": "a jack lead",
        "unmoved": True,
        "trim_db": 0.0,
        "difference_db": 0.0,
        "copy": COPY,
    }
    return SendLevelResult(**(usual | changes))


def said(result: SendLevelResult) -> tuple[Any, ...]:
    return findings_of_send_level(result, part="riff", loudest_dbfs=-18.0)


@given(st.floats(-24.0, 24.0))
def test_a_send_is_right_within_half_a_decibel_and_never_both(difference: float) -> None:
    found = codes(said(sent(difference_db=difference)))
    if abs(difference) <= WITHIN_DB:
        assert found == []
        assert what_to_do(difference) == "right"
    elif ONE_LEG_DB[0] <= difference <= ONE_LEG_DB[1]:
        assert found == ["one-leg-dead"]
    else:
        assert found == ["send-level-off"]
        assert ("up" in what_to_do(difference)) == (difference < 0)


@given(st.floats(-20.0, 20.0), st.floats(-20.0, 20.0), st.floats(-6.0, 6.0))
def test_trim_and_edit_count_as_sent(gain: float, trim: float, edit: float) -> None:
    found = difference_db(replace(COPY, gain_db=gain), trim_db=trim, edit_db=edit)
    assert found == pytest.approx(gain + trim + edit)


def test_a_leak_is_no_send() -> None:
    assert difference_db(replace(COPY, gain_db=-55.0), trim_db=0.0, edit_db=0.0) is None


def test_nothing_back_names_cable_and_input() -> None:
    nothing = CopyBack(gain_db=None, peak_dbfs=-80.0, reason="nothing")
    result = sent(difference_db=None, copy=nothing)
    (finding,) = said(result)
    assert (finding.code, finding.weight) == ("send-level-nothing", "redo")
    assert "Input 1 hears nothing" in finding.text
    assert "a jack lead" in finding.advice
    assert headline_of_send_level(result, part="riff") == "Input 1 hears nothing of what was sent"
    assert summary_of_send_level(result) == "nothing back"
    silent = sent(difference_db=None, copy=replace(nothing, reason="digital silence"))
    assert "digital silence" in said(silent)[0].text


def test_hum_near_the_di_is_worth_a_look() -> None:
    hum = replace(COPY, hum_hz=50, hum_dbfs=-60.0)
    finding = the("loop-hum", said(sent(copy=hum)))
    assert "50 Hz" in finding.text
    assert "ground lift" in finding.advice
    assert "loop-hum" not in codes(said(sent(copy=replace(hum, hum_dbfs=-90.0))))


def test_volts_without_a_history_tell_the_boxs_level_only() -> None:
    box = BoxLevel(volts=0.1, sine_dbfs=-20.0, full_scale_dbu=2.2, peak_dbu=-9.8)
    result = sent(method="voltmeter", copy=None, difference_db=None, box=box)
    assert said(result) == ()
    assert headline_of_send_level(result, part="riff").startswith("the box gives 2.2 dBu")
    assert summary_of_send_level(result) == "+2.2 dBu"


# ------------------------------------------------------------------ return gain


def cycle(peak: float = -12.0, **changes: Any) -> CycleLevels:
    usual = {"true_peak_dbfs": peak + 0.2, "rms_dbfs": peak - 12.0, "noise_dbfs": -80.0}
    return CycleLevels(**(usual | {"peak_dbfs": peak, "clipped_samples": 0} | changes))


def gained(*cycles: CycleLevels, clipped: bool = False, **changes: Any) -> ReturnGainResult:
    names = ("close", "room")
    usual: dict[str, Any] = {
        "low_dbfs": -18.0,
        "high_dbfs": -8.0,
        "stretch": Stretch(at_frame=1, frames=4 * 48_000, rms_dbfs=-20.0),
        "returns": tuple(
            ReturnLevel(name=name, input=at, cycle=one, clipped=clipped)
            for at, (name, one) in enumerate(zip(names, cycles, strict=False), start=2)
        ),
        "part": "riff",
    }
    return ReturnGainResult(**(usual | changes))


@pytest.mark.parametrize(
    ("peak", "word"),
    [
        (-3.0, "preamp down 5 dB"),
        (-7.9, "preamp down 1 dB"),
        (-8.0, "right"),
        (-18.0, "right"),
        (-23.5, "preamp up 6 dB"),
    ],
)
def test_a_preamp_is_told_the_way_into_the_window(peak: float, word: str) -> None:
    assert what_to_turn(cycle(peak), clipped=False, low_dbfs=-18.0, high_dbfs=-8.0) == word


@given(st.floats(-60.0, -0.1), st.floats(-40.0, -20.0), st.floats(-19.0, -1.0))
def test_what_is_told_leads_into_the_window(peak: float, low: float, high: float) -> None:
    word = what_to_turn(cycle(peak), clipped=False, low_dbfs=low, high_dbfs=high)
    turned = peak
    if word != "right":
        _, way, by, _ = word.split()
        turned += float(by) * (1 if way == "up" else -1)
    assert low <= turned <= high


def test_returns_are_told_together() -> None:
    result = gained(cycle(-3.0), cycle(-12.0))
    assert headline_of_return_gain(result) == "close: preamp down 5 dB"
    assert summary_of_return_gain(result) == "−3 dBFS"
    assert headline_of_return_gain(gained(cycle(), cycle())) == "close and room in the window"
    assert findings_of_return_gain(gained(cycle(), cycle())) == ()


def test_a_clip_stays_though_the_cycle_is_clean_and_a_dead_return_weighs_redo() -> None:
    (clips,) = findings_of_return_gain(gained(cycle(), clipped=True))
    assert clips.code == "return-clips"
    dead = findings_of_return_gain(gained(cycle(), cycle(-70.0, rms_dbfs=-79.5)))
    assert codes(dead) == ["return-dead"]
    assert worst(dead) == "redo"
    assert "room" in dead[0].text


@pytest.mark.parametrize(("dba", "words"), [(85.0, "8.0 hours"), (100.0, "15 minutes")])
def test_a_typed_level_is_told_with_its_hours(dba: float, words: str) -> None:
    # NIOSH 98-126, table 1-1: 85 dBA 8 hours, 100 dBA 15 minutes.
    (finding,) = findings_of_return_gain(gained(cycle(), dba=dba))
    assert words in finding.text
    assert finding.weight == "good"


# ------------------------------------------------------------------ the witness of a pass


def heard(gain_db: float | None, **changes: Any) -> Any:
    return replace(measures(), witness=aligned(gain_db=gain_db, **changes))


def before(gain_db: float | None, **changes: Any) -> Variant:
    return earlier(**({"witness": aligned(gain_db=gain_db)} | changes))


@pytest.mark.parametrize(("moved", "way"), [(0.4, "hotter"), (-0.4, "weaker"), (6.0, "hotter")])
def test_a_send_that_moved_since_it_was_set_is_worth_a_look(moved: float, way: str) -> None:
    found = the(
        "send-level-moved", verdict(of=order(witness_gain_db=-1.0), files=heard(-1.0 + moved))
    )
    assert found.weight == "look"
    assert f"{abs(moved):.1f} dB {way} than when the send level was set" in found.text
    assert abs(moved) >= MINIMUM_SIZES["send-level-moved"].value


def test_a_trim_that_was_changed_since_moves_nothing() -> None:
    one = order(witness_gain_db=-1.0, trim_db=-5.0)
    assert "send-level-moved" not in codes(verdict(of=one, files=heard(-6.0)))


@pytest.mark.parametrize("gain", [-1.2, -0.8, None])
def test_a_send_within_three_tenths_is_where_it_was(gain: float | None) -> None:
    found = verdict(of=order(witness_gain_db=-1.0), files=heard(gain))
    assert "send-level-moved" not in codes(found)


def test_a_witness_that_is_unsure_of_its_place_is_no_evidence() -> None:
    found = verdict(of=order(witness_gain_db=-1.0), files=heard(3.0, confidence=0.2))
    assert "send-level-moved" not in codes(found)


def test_without_a_set_up_the_newest_variant_counts() -> None:
    known = (before(-1.0, number=4), before(2.0, number=5), before(None, number=6))
    assert "send-level-moved" not in codes(verdict(files=heard(2.1), before=known))
    found = the("send-level-moved", verdict(files=heard(-1.0), before=known))
    assert "3.0 dB weaker than in pass 005" in found.text


@pytest.mark.parametrize(
    "changes",
    [
        {"trim_db": -3.0},
        {"witness": None},
        {"setup": {}},
        {
            "setup": {"wiring": msgspec.to_builtins(replace(WIRING, witness_input=6))},
        },
        {"setup": {"wiring": msgspec.to_builtins(replace(WIRING, send_output=4))}},
    ],
)
def test_only_variants_of_the_same_cables_and_trim_are_held_against(changes: Any) -> None:
    found = verdict(files=heard(3.0), before=(before(0.0, **changes),))
    assert "send-level-moved" not in codes(found)


# ------------------------------------------------------------------ what a pass is held against

NOW = datetime.fromisoformat("2026-11-26T12:00:00+01:00")
PART = Part(name="riff", revisions=(Revision(file="di/riff.r1.wav", file_sha256="ab" * 32),))


def record(number: int, result: Any, **changes: Any) -> SetupRecord:
    outcome = Outcome(result=result, rows=(), findings=(), headline="", summary="")
    of_part = isinstance(result, SendLevelResult)
    usual: dict[str, Any] = {
        "number": number,
        "step": "send level" if of_part else "return gain",
        "made_at": "2026-11-26T11:00:00+01:00",
        "wiring": WIRING,
        "part": "riff" if of_part else None,
        "trim_db": 0.0 if of_part else None,
        "verdict": "good",
        "outcome": outcome,
    }
    return SetupRecord(**(usual | changes))


def held_against(*records: SetupRecord) -> float | None:
    return witness_gain_db(statuses(records, wiring=WIRING, part=PART, now=NOW))


def test_a_pass_is_held_against_the_witness_since_the_send_was_set() -> None:
    plain, through = sent(), sent(witness_gain_db=-2.0)
    loud = gained(cycle(), witness_gain_db=-1.0)
    assert held_against() is None
    assert held_against(record(1, loud)) is None, "nobody set the send level"
    assert held_against(record(1, through)) == -2.0
    assert held_against(record(1, plain), record(2, loud)) == -1.0
    assert held_against(record(1, loud), record(2, plain)) is None, "it was set afterwards"
    other = replace(loud, part="hook")
    assert held_against(record(1, plain), record(2, other)) is None
    stale = record(1, through, trim_db=-3.0)
    assert held_against(stale) is None
