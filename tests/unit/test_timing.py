"""When a key counts, and how long it is until the amp sounds."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from tui.timing import GUARD_S, Countdown, Guard

REPEATS_S = st.lists(st.floats(0.001, GUARD_S * 0.99), max_size=40)
"""Time between two presses of a key that is held: shorter than the guard is deaf."""

MOMENT_S = st.floats(0.0, 1e6)


@given(MOMENT_S, REPEATS_S)
def test_a_key_that_is_held_counts_once_however_long(
    began_s: float, repeats_s: list[float]
) -> None:
    guard = Guard()
    assert guard.press(began_s), "the first press always counts"
    now_s = began_s
    for repeat_s in repeats_s:
        now_s += repeat_s
        assert not guard.press(now_s)
    assert guard.press(now_s + GUARD_S + 0.001), "it counts again once it was let go"


def test_presses_a_second_apart_all_count() -> None:
    guard = Guard()
    assert all(guard.press(float(now_s)) for now_s in range(10))


@given(MOMENT_S, st.integers(1, 30), st.lists(st.floats(0.0, 5.0), max_size=60))
def test_a_countdown_only_falls_and_is_due_exactly_once(
    began_s: float, seconds: int, steps_s: list[float]
) -> None:
    countdown = Countdown()
    countdown.begin(began_s, seconds)
    now_s, seen = began_s, []
    for step_s in [*steps_s, seconds + 1.0]:
        now_s += step_s
        seen.append(countdown.left_s(now_s))
    running = seen[: seen.index(0)]
    assert all(left is not None and 1 <= left <= seconds + 1 for left in running)
    assert running == sorted(running, key=lambda left: -(left or 0))
    assert set(seen[len(running) + 1 :]) <= {None}, "it is due once"
    assert not countdown.runs


@given(st.floats(0.0, 1000.0), st.floats(0.01, 0.99))
def test_a_second_that_has_begun_is_shown_as_whole(began_s: float, into: float) -> None:
    countdown = Countdown()
    countdown.begin(began_s, 3.0)
    left_s = began_s + 3.0 - (began_s + into)
    assert countdown.left_s(began_s + into) == math.ceil(left_s) == 3
    assert countdown.runs


def test_what_was_called_off_never_comes_due() -> None:
    countdown = Countdown()
    countdown.begin(10.0, 3.0)
    countdown.call_off()
    assert not countdown.runs
    assert countdown.left_s(100.0) is None
    countdown.call_off()  # again does no harm
    countdown.begin(200.0, 3.0)
    assert countdown.left_s(200.0) == 3


def test_beginning_again_counts_from_there() -> None:
    countdown = Countdown()
    countdown.begin(0.0, 3.0)
    countdown.begin(2.0, 3.0)
    assert countdown.left_s(3.5) == 2
    assert countdown.left_s(5.0) == 0
    assert countdown.left_s(5.0) is None


def test_no_seconds_at_all_are_due_at_once() -> None:
    countdown = Countdown()
    countdown.begin(4.0, 0.0)
    assert countdown.left_s(4.0) == 0
