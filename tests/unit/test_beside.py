"""Work beside a roll: one thing at a time, and what goes wrong in it is not lost."""

import threading

import pytest

from audio.jobs.beside import Beside
from audio.vocab.errors import DeviceError


def test_it_is_done_beside_and_never_twice_at_once() -> None:
    begun, go_on = threading.Event(), threading.Event()
    done = []

    def do() -> None:
        begun.set()
        assert go_on.wait(10.0)
        done.append(threading.current_thread())

    beside = Beside(do, every=1)
    beside.nudge(0)
    assert begun.wait(10.0)
    beside.nudge(1)  # it is being done
    go_on.set()
    beside.join()
    assert len(done) == 1
    assert done[0] is not threading.current_thread()
    beside.nudge(2)
    beside.join()
    assert len(done) == 2


def test_it_is_not_done_again_before_so_much_has_passed() -> None:
    done: list[int] = []
    beside = Beside(lambda: done.append(1), every=100)
    for at in (0, 99, 100, 150, 199, 200):
        beside.nudge(at)
        beside.join()
    assert len(done) == 3


def test_a_failure_of_the_worker_is_passed_over_and_it_is_done_again() -> None:
    done = []

    def do() -> None:
        done.append(1)
        raise DeviceError("the worker died")

    beside = Beside(do, every=1)
    for at in range(2):
        beside.nudge(at)
        beside.join()
    assert len(done) == 2


def test_a_mistake_of_the_program_is_raised_where_it_is_waited_for() -> None:
    def do() -> None:
        raise ZeroDivisionError

    beside = Beside(do, every=1)
    beside.nudge(0)
    with pytest.raises(ZeroDivisionError):
        beside.join()


def test_nothing_to_do_needs_nobody() -> None:
    beside = Beside(None, every=1)
    beside.nudge(0)
    beside.join()
