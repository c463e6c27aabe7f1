"""What is left before a pass: the states of the path's stages."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.plan.path import NEEDED, STAGES, PathFacts, first_open, hindrance, stages

FIT = PathFacts(part="hook", send_output=3, stream="open", chain="crunch", click="heard", returns=2)


def state(facts: PathFacts, name: str) -> str:
    return next(one.state for one in stages(facts) if one.name == name)


def test_a_fit_path_has_nothing_left_to_do_and_the_cursor_starts_at_the_returns() -> None:
    assert hindrance(stages(FIT)) is None
    assert first_open(stages(FIT)).name == "returns"


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"part": None}, "DI"),
        ({"di_problem": "44100 Hz against 48000"}, "DI"),
        ({"wiring_problem": "no wiring"}, "send"),
        ({"stream": "closed"}, "send"),
        ({"stream": "lost", "stream_problem": "the device went away"}, "send"),
        ({"chain": ""}, "chain"),
    ],
)
def test_what_is_missing_keeps_a_pass_from_starting_and_says_why(
    change: dict[str, object], where: str
) -> None:
    found = hindrance(stages(msgspec.structs.replace(FIT, **change)))
    assert found is not None
    assert found.name == where
    assert found.why


@pytest.mark.parametrize(
    ("click", "expected"),
    [("none", "not set"), ("heard", "set"), ("old", "stale"), ("unheard", "wrong")],
)
def test_a_click_that_is_missing_old_or_unheard_shows_and_keeps_no_pass_from_starting(
    click: str, expected: str
) -> None:
    facts = msgspec.structs.replace(FIT, click=click, click_problem="check the cable")
    assert state(facts, "returns") == expected
    assert hindrance(stages(facts)) is None


def test_a_redo_among_the_variants_is_seen_from_the_path() -> None:
    facts = msgspec.structs.replace(FIT, variants=3, newest_is_redo=True)
    assert state(facts, "variants") == "wrong"


FACTS = st.builds(
    PathFacts,
    part=st.sampled_from([None, "hook"]),
    di_problem=st.sampled_from(["", "broken"]),
    wiring_problem=st.sampled_from(["", "none"]),
    send_output=st.sampled_from([None, 3]),
    stream=st.sampled_from(["closed", "open", "lost"]),
    stream_problem=st.just("gone"),
    chain=st.sampled_from(["", "crunch"]),
    click=st.sampled_from(["none", "heard", "unheard", "old"]),
    returns=st.integers(0, 3),
    variants=st.integers(0, 3),
)


@given(FACTS)
def test_every_stage_has_a_state_and_the_first_needed_one_that_is_not_set_hinders(
    facts: PathFacts,
) -> None:
    found = stages(facts)
    assert tuple(one.name for one in found) == STAGES
    missing = [one for one in found if one.name in NEEDED and one.state != "set"]
    assert hindrance(found) == (missing[0] if missing else None)
    assert all(one.why for one in missing)
