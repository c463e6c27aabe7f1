"""The run's state machine: what may happen when, and that nothing plays without a go."""

from __future__ import annotations

from typing import get_args

import pytest
from msgspec.structs import replace

from audio.plan.run import (
    TABLE,
    UNDER_WAY,
    RunEvent,
    after,
    bare_comes_first,
    may_repeat,
    standing_at,
    to_do,
    verdict_event,
)
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import LineState, PlanLine, PlanNow, RunNow, RunState, Wanted


def line(part: str, chain: str = "fuzz", *, state: LineState = "to do") -> PlanLine:
    wanted = Wanted(key=f"{part} {chain}", part=part, chain=chain)
    return PlanLine(wanted=wanted, state=state)


PLAN = PlanNow(lines=(line("hook", state="done"), line("riff"), line("riff", "echo")))


def test_only_a_go_makes_anything_play_and_only_where_a_card_is_shown() -> None:
    leading = {
        (state, event) for state in TABLE for event, to in TABLE[state].items() if to == "playing"
    }
    assert leading == {("waiting", "go")}


def test_every_state_has_its_row_and_every_event_its_use() -> None:
    assert set(TABLE) == set(get_args(RunState))
    assert {event for row in TABLE.values() for event in row} == set(get_args(RunEvent))
    assert {to for row in TABLE.values() for to in row.values()} == set(get_args(RunState)) - {
        "none"
    }


@pytest.mark.parametrize("state", UNDER_WAY)
def test_a_program_that_ends_holds_what_was_under_way(state: RunState) -> None:
    assert after(state, "program ended") == "held"


@pytest.mark.parametrize("event", ["go", "good", "redo", "stopped"])
def test_a_held_run_does_nothing_before_somebody_goes_on(event: RunEvent) -> None:
    assert after("held", event) is None
    assert after("held", "begun") == "waiting"


@pytest.mark.parametrize("event", ["hold", "skip", "again", "end", "begun", "go"])
def test_nothing_is_done_to_a_run_while_its_line_plays(event: RunEvent) -> None:
    assert after("playing", event) is None


def test_a_redo_is_repeated_once_where_that_was_asked_for() -> None:
    asked, plain = RunNow(repeat_redo=True), RunNow()
    first = may_repeat(asked, repeated=False)
    assert after("playing", verdict_event("redo", may_repeat=first)) == "waiting"
    second = may_repeat(asked, repeated=True)
    assert after("playing", verdict_event("redo", may_repeat=second)) == "held"
    assert not may_repeat(plain, repeated=False)
    assert after("playing", verdict_event("look", may_repeat=True)) == "waiting"


def test_a_run_stands_at_the_first_line_to_do_of_the_plan_as_it_is_now() -> None:
    run = standing_at(RunNow(state="waiting", number=1), PLAN)
    assert run.at == "riff fuzz"
    turned = replace(PLAN, lines=PLAN.lines[::-1])
    assert standing_at(run, turned).at == "riff echo"
    assert standing_at(run, turned, redone=frozenset(["riff echo"])).repeated
    playing = RunNow(state="playing", at="riff fuzz")
    assert standing_at(playing, turned).at == "riff fuzz", "what plays is not changed by the plan"
    assert standing_at(replace(run, state="ended"), PLAN).at == ""
    assert standing_at(run, PlanNow(lines=(line("hook", state="cannot"),))).at == ""


def test_what_is_skipped_or_cannot_be_played_is_not_to_do() -> None:
    lines = (line("a", state="skipped"), line("b", state="cannot"), line("c"))
    assert [one.wanted.part for one in to_do(PlanNow(lines=lines))] == ["c"]


@pytest.mark.parametrize(
    ("chains", "without", "first"),
    [
        (["fuzz"], [], True),
        (["clean", "fuzz"], ["clean"], True),
        (["clean", BARE_PATH], ["clean"], False),
        ([BARE_PATH, "fuzz"], [], False),
        (["clean", BARE_PATH, "fuzz"], ["clean"], True),
        ([], [], False),
    ],
)
def test_the_bare_path_comes_first_where_a_pedal_comes_and_it_does_not_come_by_itself(
    chains: list[str], without: list[str], first: bool
) -> None:
    plan = PlanNow(lines=tuple(line("riff", chain) for chain in chains))
    assert bare_comes_first(plan, without_pedals=frozenset(without)) is first
