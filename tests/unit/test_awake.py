"""The wish that the system stays awake: held while there is a reason, refused without harm, told once."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType, SimpleNamespace

import pytest
from accidents import wait_for

from audio.files.awake import Awake


class System:
    """What `wakepy` is asked for, in its place."""

    def __init__(self, *, active: bool = True, breaks: bool = False) -> None:
        self.active = active
        self.breaks = breaks
        self.held: list[threading.Thread] = []
        self.asked = 0

    @contextmanager
    def presenting(self, *, on_fail: str) -> Iterator[SimpleNamespace]:
        assert on_fail == "pass", "a refusal must be silent"
        self.asked += 1
        if self.breaks:
            raise RuntimeError("no bus")
        self.held.append(threading.current_thread())
        yield SimpleNamespace(active=self.active)
        assert threading.current_thread() is self.held.pop(), "a mode belongs to its thread"


def put_in(patch: pytest.MonkeyPatch, system: System) -> System:
    module = ModuleType("wakepy")
    module.keep = system  # type: ignore[attr-defined]
    patch.setitem(sys.modules, "wakepy", module)
    return system


def test_the_system_is_kept_awake_while_any_reason_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    system, one = put_in(monkeypatch, System()), Awake()
    one.keep("run", wanted=True)
    with one.held("pass"):
        wait_for(lambda: system.held != [], "nobody asked")
    assert system.held, "the run still goes"
    one.keep("run", wanted=False)
    assert (system.held, system.asked) == ([], 1)
    one.keep("run", wanted=False)
    with one.held("pass"):
        wait_for(lambda: system.held != [], "nobody asked again")
    assert system.held == []
    assert not one.refused()
    one.keep("run", wanted=True)
    wait_for(lambda: system.held != [], "nobody asked once more")
    one.rest()
    assert system.held == [], "a program that leaves wants nothing any more"


@pytest.mark.parametrize(
    "system", [System(active=False), System(breaks=True)], ids=["no", "breaks"]
)
def test_a_system_that_refuses_is_told_once_and_costs_nothing(
    monkeypatch: pytest.MonkeyPatch, system: System
) -> None:
    one = Awake()
    put_in(monkeypatch, system)
    for told in (True, False):
        with one.held("pass"):
            wait_for(lambda: system.asked > 0, "nobody asked")
        assert one.refused() is told
