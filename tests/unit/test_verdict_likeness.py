"""What is named for what differs between then and now, and in which words."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from audio.measure.moments import NOMINAL_HZ
from audio.verdict.likeness import is_same, judge_likeness, tolerance
from audio.verdict.thresholds import (
    FLOOR_TIMES,
    FLOOR_UNKNOWN_TIMES,
    SAME_DISTANCE_CM,
    SAME_LEVEL_DB,
    SAME_SEND_DB,
)
from audio.vocab.likeness import BandDifference, Likeness, Moved, SoundsCompared

BENT, MOVING = {"bent_db": -30.0}, {"bent_db": -10.0, "bent_floor_db": -12.0}


def heard(name: str = "close", **changes: Any) -> Likeness:
    """Return a return that is as it was, but for some figures."""
    same = Likeness(
        name=name,
        level_db=0.0,
        level_floor_db=0.02,
        bands=bands(),
        bent_db=-60.0,
        bent_floor_db=-60.0,
        drive_db=0.0,
        drive_floor_db=0.02,
        noise_db=0.0,
        noise_floor_db=0.1,
        distance_cm=0.0,
        distance_floor_cm=0.05,
        polarity="normal",
    )
    return msgspec.structs.replace(same, **changes)


def bands(db: float = 0.0, **others: float) -> tuple[BandDifference, ...]:
    """Return bands that are off by `db`, some of them (``hz3150``) by more."""
    return tuple(
        BandDifference(hz=hz, difference_db=db + others.get(f"hz{hz:g}", 0.0), floor_db=0.05)
        for hz in NOMINAL_HZ
    )


def judged(*returns: Likeness, **changes: Any) -> Moved:
    whole = SoundsCompared(
        sample_rate=48_000,
        playing_s=15.0,
        kept_twice=True,
        distance_by="cable",
        returns=returns,
    )
    return judge_likeness(msgspec.structs.replace(whole, **changes))


def test_nothing_is_nothing_and_the_same_sound() -> None:
    moved = judged(heard(), heard("room"))
    assert (moved.cause, moved.is_same, moved.advice) == ("nothing", True, "")
    assert moved.text == "The same sound as then."


def test_a_sound_kept_once_says_that_tolerances_are_wider() -> None:
    moved = judged(heard(level_floor_db=None), kept_twice=False)
    assert moved.cause == "nothing"
    assert "only once" in moved.text


@pytest.mark.parametrize(("db", "advice"), [(1.0, "down"), (-1.0, "up")])
def test_a_drive_is_what_no_filter_does_on_every_return(db: float, advice: str) -> None:
    moved = judged(heard(drive_db=db, **BENT), heard("room", drive_db=0.9 * db, **BENT))
    assert (moved.cause, moved.unit) == ("drive", "dB")
    assert moved.amount == pytest.approx(0.95 * db)
    assert moved.advice == f"Drive {advice} about 1 dB."


def test_a_drive_that_only_one_microphone_tells_is_no_drive() -> None:
    assert judged(heard(drive_db=1.0, **BENT), heard("room")).cause == "nothing"


def test_what_bends_every_return_otherwise_without_a_drive_is_unclear() -> None:
    assert judged(heard(**BENT), heard("room", **BENT)).cause == "unclear"


def test_a_drive_is_told_before_the_tone_and_level_it_moves() -> None:
    moved = judged(heard(drive_db=1.0, level_db=0.8, bands=bands(0.8, hz5000=1.5), **BENT))
    assert moved.cause == "drive"
    assert not moved.is_same


def test_a_microphone_is_told_by_its_delay_whatever_else_it_changes() -> None:
    moved = judged(heard(distance_cm=-2.1, level_db=2.0, bands=bands(2.0, hz100=2.0)))
    assert (moved.cause, moved.unit, moved.amount) == ("distance", "cm", -2.1)
    assert moved.text == "close is 2.1 cm nearer than then."
    assert moved.advice == "Move close 2 cm further away."


def test_of_two_microphones_without_a_cable_either_may_have_moved() -> None:
    pair = heard(distance_cm=2.0), heard("room", distance_cm=-2.0)
    moved = judged(*pair, distance_by="other returns")
    assert moved.returns == ("close", "room")
    assert moved.advice == "Move close 2 cm nearer, or room further away."


def test_a_tone_is_told_at_its_frequency_beside_a_level() -> None:
    moved = judged(heard(level_db=-0.8, bands=bands(-0.8, hz2500=1.4, hz3150=2.0)))
    assert (moved.cause, moved.hz, moved.amount) == ("tone", 3150.0, pytest.approx(2.0))
    assert moved.advice == "Presence down about 2 dB at 3.15 kHz."


def test_a_level_of_one_return_is_its_preamp_of_all_the_amp() -> None:
    up = {"level_db": 1.0, "bands": bands(1.0)}
    assert judged(heard(**up), heard("room")).advice == "Preamp of close down 1.0 dB."
    assert judged(heard(**up), heard("room", **up)).advice == "Amp volume down 1.0 dB."


def test_the_sends_level_is_the_witness() -> None:
    moved = judged(heard(level_db=0.8), send_db=0.8, send_floor_db=0.0)
    assert (moved.cause, moved.advice) == ("drive", "Send or reamp box trim down 0.8 dB.")
    assert judged(heard(), send_db=SAME_SEND_DB, send_floor_db=0.0).cause == "nothing"


def test_noise_is_told_last() -> None:
    assert judged(heard(noise_db=6.0)).cause == "noise"
    assert judged(heard(noise_db=6.0, level_db=1.0)).cause == "level"


def test_a_return_that_tells_nothing_makes_it_unclear() -> None:
    moved = judged(heard(), Likeness(name="room", reason="nothing came back now"))
    assert (moved.cause, moved.text) == ("unclear", "room: nothing came back now.")
    assert not moved.is_same


def test_a_return_that_is_upside_down_is_no_other_cause() -> None:
    moved = judged(heard(polarity="inverted", level_db=1.0))
    assert (moved.cause, moved.text) == ("unclear", "close came back upside down.")


@pytest.mark.parametrize("alone", [{}, MOVING])
def test_a_drive_needs_more_where_only_soft_and_hard_playing_tell_it(alone: dict) -> None:
    assert judged(heard(drive_db=0.3, **alone)).cause == "nothing"
    assert judged(heard(drive_db=0.6, **alone)).cause == "drive"


def test_what_would_hide_in_a_moving_chain_is_unclear_not_nothing() -> None:
    assert judged(heard(drive_floor_db=0.4, **MOVING)).cause == "unclear"
    assert judged(heard(level_db=-0.4, **MOVING)).cause == "unclear"


def test_tolerances_are_never_tighter_than_the_floor_and_wider_where_it_is_unknown() -> None:
    assert tolerance(0.5, 0.1) == 0.5
    assert tolerance(0.5, 0.4) == FLOOR_TIMES * 0.4
    assert tolerance(0.5, None) == FLOOR_UNKNOWN_TIMES * 0.5


@pytest.mark.parametrize(
    ("figure", "limit", "floor"),
    [
        ("level_db", SAME_LEVEL_DB, "level_floor_db"),
        ("distance_cm", SAME_DISTANCE_CM, "distance_floor_cm"),
    ],
)
def test_each_figure_is_the_same_up_to_its_tolerance(figure: str, limit: float, floor: str) -> None:
    def same(value: float, least: float) -> bool:
        one = heard(**{figure: value, floor: least})
        whole = SoundsCompared(
            sample_rate=48_000, playing_s=1.0, kept_twice=True, distance_by="cable", returns=(one,)
        )
        return is_same(whole)

    assert same(limit, 0.0)
    assert not same(1.01 * limit, 0.0)
    assert same(1.5 * limit, limit)
