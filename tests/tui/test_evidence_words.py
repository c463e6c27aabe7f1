"""What each proof tells, and the words for placement, clicks and microphones."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from evidences import LOST, REFUSED, along, bare, changed, click, full, shape, slipped
from invented import RATE

from audio.plan.evidence_proofs import proofs
from audio.plan.evidence_words import distance, last_time, moment, placement, polarity, steadiness
from audio.vocab.alignment import Alignment, Disturbance, Polarity
from audio.vocab.findings import Finding
from audio.vocab.messages import Dropout
from audio.vocab.variant import Variant


def told(one: Variant) -> list[tuple[str, str, str]]:
    return [(each.proof, each.state, each.words) for each in proofs(one)]


# ---------------------------------------------------------------- the proofs


def test_the_proof_that_was_used_comes_first_then_the_others_strongest_first() -> None:
    assert [one[0] for one in told(full())] == ["loop", "clicks", "music", "counters"]
    by_music = changed(full(), proof="music", witness=along(-40.0))
    assert [one[0] for one in told(by_music)] == [
        "music",
        "loop",
        "witness",
        "clicks",
        "counters",
    ]


def test_each_proof_says_how_well_all_is_in_place() -> None:
    assert told(full()) == [
        ("loop", "set", "every frame in place, to 0.01 frames"),
        ("clicks", "set", "0.02 frames apart, before and after"),
        ("music", "set", "in place to 0.4 frames"),
        ("counters", "set", "no frame lost, none in doubt; clock +3 ppm"),
    ]


def test_lost_frames_are_told_by_every_proof_that_saw_them() -> None:
    assert told(slipped())[:3] == [
        ("loop", "wrong", "64 frames lost at 0:12.00"),
        ("clicks", "stale", "the closing one came 63.97 frames earlier"),
        ("music", "wrong", "64 frames lost at 0:12.00 ± 1.00 s"),
    ]


def test_inserted_frames_one_frame_and_many_places_have_their_words() -> None:
    one = msgspec.structs.replace(LOST, frames=1)
    found = told(changed(full(), loop=along(0.0, slips=(one,) * 5)))[0]
    assert found[2].startswith("1 frame inserted at 0:12.00; ")
    assert found[2].endswith("; and 2 more")


def test_a_proof_that_refused_says_why_and_weighs_nothing() -> None:
    (music,) = (one for one in told(changed(full(), music=REFUSED)) if one[0] == "music")
    assert music[1] == "not set"
    assert music[2] == f"tells nothing: {REFUSED.reason}"


def test_a_cable_that_proved_by_its_clicks_alone_is_told_so() -> None:
    """Neither its recording of the DI nor its clicks are kept then, only that they were used."""
    for loop in (None, REFUSED):
        agreed = changed(full(), loop=loop)
        assert told(agreed)[0] == ("loop", "set", "its clicks before and after agree")
        slip = Finding(code="frames-slipped", weight="redo", text="Frames were lost.")
        lost = told(changed(agreed, findings=(slip,)))[0]
        assert lost == ("loop", "wrong", "its clicks before and after do not agree")


@pytest.mark.parametrize(
    ("ppm", "said"),
    [(12.34, "12.3 ppm slower"), (-12.34, "12.3 ppm faster"), (0.04, ""), (None, "")],
)
def test_a_clock_that_runs_otherwise_is_told_and_is_no_stray(ppm: float | None, said: str) -> None:
    found = along(-51.0, ppm=ppm or 0.0)
    found = msgspec.structs.replace(found, drift_ppm=ppm)
    loop = told(changed(full(), loop=found))[0][2]
    assert loop.startswith("every frame in place, to 0.0")
    assert ("ppm" in loop) == bool(said)
    assert said in loop


def test_a_music_placed_without_places_says_how_sure_it_is() -> None:
    found = Alignment(delay_frames=0.4, plus_minus_frames=0.6)
    assert "in place to 0.6 frames" in told(changed(full(), music=found))[2][2]


@pytest.mark.parametrize(
    ("opening", "closing", "said"),
    [
        (click(None, reason="only hum"), click(702.0), "no opening click was heard: only hum"),
        (click(702.0), None, "only the opening one was played"),
        (click(702.0), click(None, reason="nothing"), "no closing click was heard: nothing"),
    ],
)
def test_a_click_that_is_missing_is_told(opening: Any, closing: Any, said: str) -> None:
    closings = () if closing is None else (closing,)
    one = changed(full(), opening_click=(opening,), closing_click=closings)
    (clicks,) = (each for each in told(one) if each[0] == "clicks")
    assert clicks[1:] == ("not set", said)


def test_what_the_counters_saw_is_told_with_its_place() -> None:
    lost = Dropout(at_frame=RATE, kind="overrun", frames=512)
    late = Dropout(at_frame=2 * RATE, kind="clock step")
    counters = told(changed(full(), dropouts=(lost, late)))[-1]
    assert counters[1] == "wrong"
    assert counters[2].startswith("overrun at 0:01.00, 512 frames; clock step at 0:02.00; clock +3")


def test_the_reference_return_is_the_one_of_the_setup() -> None:
    one = full()
    far = {"wiring": {"reference": one.files[1].return_name}}
    later = click(1005.10, drawn=shape())
    moved = changed(one, setup=far, closing_click=(one.closing_click[0], later))
    assert told(moved)[1][2] == "the closing one came 0.98 frames later"


# ---------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.0, "0:00.00"), (41.254, "0:41.25"), (59.999, "1:00.00"), (-1.0, "0:00.00")],
)
def test_a_moment_is_told_to_the_hundredth(seconds: float, said: str) -> None:
    assert moment(seconds) == said


def test_the_clicks_say_how_many_they_were_and_how_steady() -> None:
    one = click(702.0)
    assert steadiness(one) == "steady to 0.04 frames over 8 clicks"
    lost = msgspec.structs.replace(one, arrivals=(None, *one.arrivals[1:]))
    assert steadiness(lost) == "steady to 0.04 frames over 7 clicks of 8"
    assert steadiness(msgspec.structs.replace(one, arrivals=())) == "steady to 0.04 frames"
    assert steadiness(msgspec.structs.replace(one, spread_frames=None)) == "heard over 8 clicks"
    assert not steadiness(click(None, reason="nothing"))
    assert not steadiness(None)


def test_last_times_number_and_the_difference_are_told() -> None:
    before = changed(full(1), delay_frames=702.12)
    assert last_time(full(), before) == "pass 001: 702.12, +0.25"
    assert not last_time(full(), None)
    assert not last_time(bare(), before)


def test_the_placement_says_what_was_removed_and_what_the_chain_adds() -> None:
    assert placement(full()) == (
        "by opening click: 702 removed, +0.37 left (music: +0.40 ± 0.47);"
        " aligned to the DI; this chain adds 1.4 ms"
    )
    kept = changed(
        full(), music=REFUSED, residual_frames=-0.6, chain_adds_frames=None, align_to="live"
    )
    assert placement(kept) == (
        "by opening click: 702 removed, −0.60 left, as in the pass before;"
        " aligned to the moment it was played"
    )


@pytest.mark.parametrize(
    ("by_file", "by_click", "said", "said_of_reference"),
    [
        ("inverted", "inverted", "inverted, by the clicks", "inverted, by the clicks"),
        ("normal", "unsure", "normal, by sum and difference", "normal, by the music"),
        (
            "unsure",
            "inverted",
            "unsure: clicks and sum disagree",
            "unsure: clicks and music disagree",
        ),
        ("unsure", "unsure", "unsure: the click is smeared", "unsure: the click is smeared"),
    ],
)
def test_polarity_says_how_it_was_judged(
    by_file: Polarity, by_click: Polarity, said: str, said_of_reference: str
) -> None:
    file = msgspec.structs.replace(full().files[1], polarity=by_file)
    one = msgspec.structs.replace(click(702.0), polarity=by_click)
    assert polarity(file, one, is_reference=False) == said
    assert polarity(file, one, is_reference=True) == said_of_reference


def test_a_distance_is_told_in_milliseconds_and_air_as_far_as_both_are_known() -> None:
    near, far = full().files
    assert distance(far, RATE) == "+6.29 ms, about +216 cm"
    assert not distance(near, RATE)
    without = msgspec.structs.replace(far, extra_delay_ms=None, extra_air_cm=None)
    assert distance(without, RATE) == "+6.29 ms"


@pytest.mark.parametrize(
    ("kind", "state", "words"),
    [
        ("moved", "wrong", "20 ms slipped and put back at 0:12.00; in place around"),
        ("silent", "wrong", "20 ms of silence at 0:12.00; in place around"),
        ("strange", "stale", "20 ms of something else at 0:12.00; in place around"),
    ],
)
def test_what_was_disturbed_for_a_moment_stands_in_the_place_of_every_frame_in_place(
    kind: Any, state: str, words: str
) -> None:
    one = Disturbance(at_frame=12 * RATE, frames=RATE // 50, kind=kind)
    loop = msgspec.structs.replace(along(-51.0), disturbances=(one,))
    assert told(changed(full(), loop=loop))[0] == ("loop", state, words)
    both = msgspec.structs.replace(along(-51.0, slips=(LOST,)), disturbances=(one,))
    words = f"64 frames lost at 0:12.00; {words.removesuffix('; in place around')}"
    assert told(changed(full(), loop=both))[0] == ("loop", "wrong", words)
