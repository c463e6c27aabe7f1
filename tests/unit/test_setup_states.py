"""Which settings hold: set, stale or wrong, and what is said of it."""

from datetime import datetime, timedelta
from typing import Any

import msgspec
import pytest
from session_cases import NOON, WIRING
from setup_cases import record

from audio.plan.setup import HOLDS_FOR, StepStatus, same_cables, statuses
from audio.vocab.session_file import Part, Revision
from audio.vocab.setup import SetupRecord
from audio.vocab.step_names import STEPS
from audio.vocab.wiring import Loop, Return

NOW = datetime.fromisoformat(NOON) + timedelta(minutes=10)
PART = Part(
    name="rhythm-left", trim_db=0.0, revisions=(Revision(file="di/a.wav", file_sha256="ab" * 32),)
)
OF_PART = {"step": "send level", "part": "rhythm-left", "trim_db": 0.0}


def status(*records: SetupRecord, step: str = "polarity", **changes: Any) -> StepStatus:
    given: dict[str, Any] = {"wiring": WIRING, "part": PART, "now": NOW} | changes
    return next(one for one in statuses(records, **given) if one.step == step)


def test_nothing_is_set_before_it_was_measured() -> None:
    found = statuses((), wiring=WIRING, part=PART, now=NOW)
    assert [one.step for one in found] == list(STEPS)
    assert {one.state for one in found} == {"not set"}
    assert all(one.why for one in found)


def test_the_newest_record_counts() -> None:
    found = status(record(verdict="redo"), record(number=2))
    assert (found.state, found.used.number) == ("set", 2)


def test_what_was_measured_wrong_says_its_headline() -> None:
    found = status(record(verdict="redo"))
    assert (found.state, found.why) == ("wrong", "close is right side up")


@pytest.mark.parametrize(
    "changed",
    [
        {"send_output": 4},
        {"sample_rate": 96_000},
        {"returns": (Return("close", 3),)},
        {"witness_input": 5},
        {"loop": Loop(output=8, input=8)},
        {"block_frames": 256},
    ],
)
def test_another_cable_makes_it_stale(changed: dict[str, Any]) -> None:
    found = status(record(), wiring=msgspec.structs.replace(WIRING, **changed))
    assert found.state == "stale"
    assert "another wiring" in found.why


@pytest.mark.parametrize(
    "changed", [{"name": "the same"}, {"tail_s": 3.0}, {"depth": 32}, {"listen_outputs": (1, 2)}]
)
def test_what_is_no_cable_does_not(changed: dict[str, Any]) -> None:
    assert same_cables(WIRING, msgspec.structs.replace(WIRING, **changed))


def test_a_night_makes_it_stale_and_the_date_is_said() -> None:
    found = status(record(), now=datetime.fromisoformat(NOON) + HOLDS_FOR + timedelta(seconds=1))
    assert found.state == "stale"
    assert NOON[:10] in found.why


def test_the_send_level_belongs_to_its_part() -> None:
    other = msgspec.structs.replace(PART, name="hook")
    one = record(**OF_PART)
    assert status(one, step="send level").state == "set"
    assert status(one, step="send level", part=other).state == "not set"
    assert status(one, step="send level", part=None).state == "not set"


def test_another_trim_makes_the_send_level_stale() -> None:
    turned = msgspec.structs.replace(PART, trim_db=1.5)
    assert "another trim" in status(record(**OF_PART), step="send level", part=turned).why
