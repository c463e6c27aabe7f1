"""What is said of a DI before it is sent: each code for what it names, and nothing for a clean one."""

from __future__ import annotations

import pytest
from di_cases import CLEAN, QUIET_EDGE, RATE, facts, hits, level, measures
from msgspec.structs import replace
from session_cases import WIRING

from audio.measure.after_gain import after_gain
from audio.verdict.di_hits import findings_of_hits
from audio.verdict.readiness import findings_of
from audio.verdict.readiness_change import changes
from audio.vocab.findings import Verdict
from audio.vocab.readiness import Between, DeadStop, DiFinding, DiMeasures, Edge, EditJoint, Repeat
from audio.vocab.results import ClippedRun
from audio.vocab.timing import NoTiming, PlacedHit, Subdivision, Timing

RUN = ClippedRun(at_frame=4800, frames=5)
JOINT = EditJoint(frame=96_000, kind="step", size_db=31.0, confidence=0.97)
STRUCK = replace(JOINT, rise_db=14.0)
HUM = Between(
    kind="hum",
    frame=0,
    frames=24_000,
    level_dbfs=-62.0,
    under_notes_db=44.0,
    hum_hz=50,
    confidence=0.9,
)
STOP = DeadStop(frame=48_000, frames=4800, before_dbfs=-70.0, after_dbfs=-200.0, confidence=0.95)
HARD = Edge(silence_frames=0, step_dbfs=-20.0, click_db=24.0, fade_frames=0)

CASES: dict[str, tuple[DiMeasures, str, Verdict]] = {
    "no playing": (measures(facts=facts(loudest_dbfs=-95.0)), "di-silent", "redo"),
    "16 bits in 24": (measures(used_bits=16), "few-bits", "look"),
    "20 bits in 24": (measures(used_bits=20), "padded-bits", "good"),
    "two that differ": (
        measures(facts=facts(channels=2), others="different"),
        "channels-differ",
        "look",
    ),
    "two alike": (measures(facts=facts(channels=2), others="alike"), "channels-alike", "good"),
    "one of two": (measures(facts=facts(channels=2), others="silent"), "channel-silent", "good"),
    "no stamp": (measures(facts=facts(time_reference=0)), "no-time-stamp", "good"),
    "long silence first": (
        measures(start=replace(QUIET_EDGE, silence_frames=11 * RATE)),
        "silence-at-start",
        "good",
    ),
    "long silence last": (
        measures(end=replace(QUIET_EDGE, silence_frames=11 * RATE)),
        "silence-at-end",
        "good",
    ),
    "three clips": (measures(level=level(clipped_runs=3, clipped=(RUN,))), "clipped", "look"),
    "four clips": (measures(level=level(clipped_runs=4, clipped=(RUN,))), "clipped", "redo"),
    "tops cut off": (measures(flat_tops=(RUN,)), "flat-tops", "look"),
    "over full scale": (
        measures(level=level(peak_dbfs=1.2, true_peak_dbtp=1.3)),
        "over-full-scale",
        "redo",
    ),
    "over between samples": (
        measures(level=level(peak_dbfs=-0.1, true_peak_dbtp=0.4)),
        "between-samples",
        "look",
    ),
    "quiet": (measures(level=level(peak_dbfs=-41.0)), "very-low", "look"),
    "direct current": (measures(level=level(dc=-0.01)), "dc", "look"),
    "starts hard": (measures(start=HARD), "starts-hard", "redo"),
    "ends hard": (measures(end=HARD), "ends-hard", "redo"),
    "loud joint": (measures(joints=(JOINT,)), "joint", "redo"),
    "small joint": (measures(joints=(replace(JOINT, size_db=19.0),)), "joint", "look"),
    "unsure joint": (measures(joints=(replace(JOINT, confidence=0.6),)), "joint", "look"),
    "doubtful joint": (measures(joints=(replace(JOINT, confidence=0.2),)), "joint", "good"),
    "a short hum": (measures(between=(replace(HUM, frames=9600),)), "hum-between", "good"),
    "joints at an attack": (
        measures(joints=(STRUCK, replace(STRUCK, frame=96_300)), hits=hits(96_100.0)),
        "joints-hidden",
        "good",
    ),
    "behind an attack": (measures(joints=(STRUCK,), hits=hits(95_000.0)), "joint", "redo"),
    "ahead of an attack": (measures(joints=(STRUCK,), hits=hits(96_500.0)), "joint", "redo"),
    "taken for a hit": (measures(joints=(JOINT,), hits=hits(96_000.0)), "joint", "redo"),
    "stops dead": (measures(stops=(STOP,)), "stops-dead", "look"),
    "copied": (
        measures(repeats=(Repeat(frame=96_000, frames=24_000, of_frame=0),)),
        "repeated",
        "good",
    ),
    "a loop": (
        measures(
            repeats=tuple(
                Repeat(frame=at * 96_000, frames=48_000, of_frame=0) for at in range(1, 6)
            )
        ),
        "repeated",
        "good",
    ),
    "hum near the notes": (measures(between=(HUM,)), "hum-between", "look"),
    "hum far down": (
        measures(between=(replace(HUM, under_notes_db=75.0),)),
        "hum-between",
        "good",
    ),
    "a knock": (measures(between=(replace(HUM, kind="handling"),)), "handling-between", "look"),
    "a slide": (measures(between=(replace(HUM, kind="slide"),)), "slide-between", "look"),
    "hiss": (measures(between=(replace(HUM, kind="noise"),)), "noise-between", "look"),
}


def test_a_clean_di_has_nothing_said_against_it() -> None:
    assert findings_of(CLEAN) == ()


@pytest.mark.parametrize("name", CASES)
def test_what_was_measured_is_named_with_its_weight_and_its_way_out(name: str) -> None:
    measured, code, weight = CASES[name]
    (found,) = findings_of(measured)
    assert (found.code, found.weight) == (code, weight)
    assert found.text.endswith(".")
    assert found.weight == "good" or found.advice, "a fault without a way out"
    assert (found.at_s is None) == (found.frame is None)
    if found.frame is not None and found.at_s is not None:
        assert found.at_s == pytest.approx(found.frame / RATE)


def test_a_rate_that_is_not_the_wirings_is_refused_with_both_numbers() -> None:
    (found,) = findings_of(measures(facts=facts(sample_rate=96_000)), wiring=WIRING)
    assert found.code == "rate-differs"
    assert "96000" in found.text
    assert f"{WIRING.sample_rate}" in found.text


def test_findings_stand_heaviest_first_then_by_place_and_are_told_in_bars() -> None:
    later = replace(JOINT, frame=200_000)
    found = findings_of(
        measures(joints=(later, JOINT), stops=(STOP,), used_bits=16),
        place=lambda frame: f"frame {frame:.0f}",
    )
    assert [one.weight for one in found] == ["redo", "redo", "look", "look"]
    assert [one.frame for one in found] == [96_000, 200_000, None, 48_000]
    assert [one.place for one in found] == ["frame 96000", "frame 200000", "", "frame 48000"]


def test_what_gain_makes_of_noise_stands_in_the_text() -> None:
    (found,) = findings_of(measures(between=(HUM,)))
    assert f"{after_gain(44.0, gain_db=30.0, headroom_db=0.0):.0f} dB" in found.text
    assert "50 Hz" in found.text


# ------------------------------------------------------------------ hits, which never weigh


def timing(*deviations: float) -> Timing:
    placed = tuple(
        PlacedHit(
            at_s=float(at) + ms / 1000,
            grid_s=float(at),
            deviation_ms=ms,
            bar=1,
            beat=float(at + 1),
            place=f"bar 1 beat {at + 1}",
        )
        for at, ms in enumerate(deviations)
    )
    worst = tuple(sorted(placed, key=lambda one: -abs(one.deviation_ms)))
    return Timing(
        subdivision=Subdivision(parts=2),
        hits=placed,
        bars=(),
        count=len(placed),
        mean_ms=0.0,
        spread_ms=1.0,
        worst=worst,
    )


def test_hits_far_off_the_grid_inform_and_never_weigh() -> None:
    (found,) = findings_of_hits(CLEAN, timing(2.0, -18.0, 40.0))
    assert (found.code, found.weight, found.size) == ("hits-off", "good", 40.0)
    assert "2 hits lie" in found.text
    assert "bar 1 beat 3: 40 ms late" in found.text


def test_hits_on_the_grid_and_hits_without_one_say_nothing() -> None:
    assert findings_of_hits(CLEAN, timing(2.0, -3.0)) == ()
    assert findings_of_hits(CLEAN, NoTiming(reason="no tempo", hits=12)) == ()


def test_a_tempo_file_that_cannot_be_read_is_said() -> None:
    no = NoTiming(reason="no tempo", hits=12)
    (found,) = findings_of_hits(CLEAN, no, no_tempo="song.mid is damaged")
    assert found.code == "tempo-unread"
    assert "song.mid is damaged" in found.text


# ------------------------------------------------------------------ a corrected edit


def told(code: str, at_s: float | None, weight: Verdict = "look") -> DiFinding:
    return DiFinding(code=code, weight=weight, text="x.", at_s=at_s)


def test_a_mended_joint_is_gone_a_moved_one_stays_and_a_new_one_is_new() -> None:
    before = (
        told("joint", 1.0),
        told("joint", 2.0),
        told("clipped", 3.0),
        told("padded", 1.0, "good"),
    )
    now = (told("joint", 2.03), told("joint", 7.0), told("clipped", 3.0))
    change = changes(before, now, hits=(10, 11), timing=(timing(1.0, 2.0), timing(1.0, 2.0)))
    assert [one.at_s for one in change.gone] == [1.0]
    assert [one.at_s for one in change.new] == [7.0]
    assert change.stayed == 2
    assert (change.hits_before, change.hits_now) == (10, 11)


def test_two_findings_are_never_matched_with_the_same_one() -> None:
    before = (told("joint", 1.0), told("joint", 1.01))
    change = changes(before, (told("joint", 1.0),), hits=(0, 0), timing=(timing(), timing()))
    assert (len(change.gone), change.stayed) == (1, 1)


def test_findings_without_a_place_are_matched_by_their_code() -> None:
    change = changes(
        (told("dc", None),), (told("dc", None),), hits=(0, 0), timing=(timing(), timing())
    )
    assert (change.gone, change.new, change.stayed) == ((), (), 1)
