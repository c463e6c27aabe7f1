"""The screen in a real terminal: what moves, and how the terminal is left, however the program ends."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from accidents import Evening, is_gone, wait_for
from needs import needs_program, needs_samples
from terminal import COMMAND, Manners, Terminal, environment, terminal

pytestmark = [needs_program("tmux", package="tmux"), needs_samples()]

LEVELS_MOVE_WITHIN_S = 8.0
"""Of the command; generous, as the machine is shared: `bench_screen_start` states the figure."""

SIZES = ((80, 24), (160, 50))

Open = Callable[..., Terminal]


@pytest.fixture
def open_terminal(tmp_path: Path) -> Iterator[Open]:
    with ExitStack() as opened:
        yield lambda **given: opened.enter_context(terminal(tmp_path, **given))


def at_the_returns(one: Terminal) -> None:
    """Walk to where the levels are as soon as there is a path to walk along."""
    one.wait_for("variants")
    one.press(*["Right"] * 5)
    one.wait_for("▸returns")


def levels(shown: str) -> list[str]:
    """Return the lines of levels; each names its input."""
    return [line for line in shown.splitlines() if re.search(r"\bin \d", line) and line.rstrip()[-1:].isdigit()]


def assert_levels_move(one: Terminal, *, limit_s: float) -> None:
    seen: set[tuple[str, ...]] = set()

    def moved(shown: str) -> bool:
        if found := tuple(levels(shown)):
            seen.add(found)
        return len(seen) >= 3

    one.until(moved, f"the levels did not move, {seen}", limit_s=limit_s)


def leave(one: Terminal) -> int:
    one.press("q")
    return one.ended()


def assert_left_as_it_was(one: Terminal, before: Manners) -> None:
    after = one.manners()
    assert after == before
    assert not after.other_screen


# ---------------------------------------------------------------- at the desk


def test_the_demo_moves_and_leaves_the_terminal_as_it_was(open_terminal: Open) -> None:
    one = open_terminal()
    before = one.manners()
    began = time.monotonic()
    one.run("demo", "--out", "harbour")
    at_the_returns(one)
    assert one.manners().other_screen
    assert_levels_move(one, limit_s=LEVELS_MOVE_WITHIN_S - (time.monotonic() - began))
    assert leave(one) == 0
    assert_left_as_it_was(one, before)
