"""What is left before a pass: the states of the path's stages."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.plan.path import STAGES, STEPS_AT, PathFacts, first_open, hindrance, stages
from audio.plan.setup import StepStatus
from audio.vocab.step_names import STEPS

FIT = PathFacts(part="hook", send_output=3, stream="open", chain="crunch", click="heard", returns=2)


def state(facts: PathFacts, name: str) -> str:
    return next(one.state for one in stages(facts) if one.name == name)


def with_steps(**states: str) -> PathFacts:
    """Return a fit path with steps in these states, every other one set."""
    found = []
    for step in STEPS:
        state = states.get(step.replace(" ", "_"), "set")
        why = "" if state == "set" else f"{step} is {state}"
        found.append(StepStatus(step=step, state=state, why=why))  # type: ignore[arg-type]
    return msgspec.structs.replace(FIT, steps=tuple(found))


def test_a_path_on_which_all_is_set_has_the_cursor_at_the_returns() -> None:
    found = stages(with_steps())
    assert hindrance(found) is None
    assert {one.state for one in found if one.name != "variants"} == {"set"}
    assert first_open(found).name == "returns"


def test_a_path_that_was_never_set_up_hinders_nothing_and_the_cursor_starts_where_something_is_left() -> (
    None
):
    assert hindrance(stages(FIT)) is None
    assert first_open(stages(FIT)).name == "amp"
    assert state(FIT, "send") == "set"


def test_every_step_is_walked_at_one_stage() -> None:
    walked = [step for steps in STEPS_AT.values() for step in steps]
    assert sorted(walked) == sorted(STEPS)


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("found", ["stale", "wrong"])
def test_a_step_that_is_stale_or_wrong_shows_at_its_stage_and_keeps_no_pass_from_starting(
    step: str, found: str
) -> None:
    facts = with_steps(**{step.replace(" ", "_"): found})
    here = next(name for name, steps in STEPS_AT.items() if step in steps)
    shown = next(one for one in stages(facts) if one.name == here)
    assert (shown.state, shown.why) == (found, f"{step} is {found}")
    assert hindrance(stages(facts)) is None
    assert first_open(stages(facts)).name == here


def test_the_heaviest_of_several_steps_is_the_stages() -> None:
    assert state(with_steps(wire="stale", send_level="wrong"), "send") == "wrong"
    assert state(with_steps(wire="not set", send_level="stale"), "send") == "stale"
    assert state(with_steps(wire="not set"), "send") == "set"


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


def test_the_path_tells_how_many_variants_there_are_and_how_many_were_kept() -> None:
    def detail(**change: int) -> str:
        return stages(msgspec.structs.replace(FIT, **change))[-1].detail

    assert [detail(), detail(variants=6), detail(variants=6, keepers=2)] == [
        "none yet",
        "6",
        "6, 2 kept",
    ]
    assert len(detail(variants=12, keepers=3)) <= 10  # cells of a stage on a small screen


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
    needed = ("DI", "send", "chain")
    missing = [one for one in found if one.name in needed and one.state != "set"]
    assert hindrance(found) == (missing[0] if missing else None)
    assert all(one.why for one in missing)
