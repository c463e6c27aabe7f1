"""The engine's state table keeps the rules written above it."""

from __future__ import annotations

from typing import get_args

import pytest

from audio.engine.states import STATES, TABLE, Happening, ImpossibleError, after, may

SOUNDING = {"rolling", "stopping"}


def test_a_roll_starts_from_standby_only() -> None:
    assert {state for (state, happening) in TABLE if happening == "started"} == {"standby"}


def test_a_fault_has_no_way_back_to_sound() -> None:
    reachable, todo = set(), ["faulty"]
    while todo:
        state = todo.pop()
        reachable.add(state)
        todo += [to for (at, _), to in TABLE.items() if at == state and to not in reachable]
    assert not reachable & SOUNDING
    assert "left" in reachable


def test_left_is_final() -> None:
    assert not [state for (state, _) in TABLE if state == "left"]


def test_every_sounding_state_can_end_and_can_fail() -> None:
    for state in SOUNDING:
        assert may(state, "ended")  # type: ignore[arg-type]
        assert may(state, "fault")  # type: ignore[arg-type]


def test_what_the_table_does_not_know_is_impossible() -> None:
    known = set(TABLE)
    for state in STATES:
        for happening in get_args(Happening):
            if (state, happening) not in known:
                with pytest.raises(ImpossibleError, match="cannot happen"):
                    after(state, happening)
