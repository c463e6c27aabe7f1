"""What every benchmark here shares: how figures are printed, and where the tests' own rooms are found.

Run one script at a time, on a machine that does nothing else::

    .venv/bin/python tests/benchmarks/bench_callback.py --short

``--help`` tells a script's options; ``--short`` is for trying it out, its figures prove nothing. Each line
gives a figure, its goal, and whether it was met; lines without a goal are for comparison. Ratios are
measured in one run, because absolute times are noisy. A script ends with 0 whatever the figures are:
a goal that is not met is news, not a crash.

Needs what the tests need; those over JACK also jackd2 and libportaudio2, and real-time scheduling for
the server, without which the machine's scheduler loses blocks, not the program.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
if str(TESTS) not in sys.path:
    sys.path.append(str(TESTS))

_NAME, _VALUE, _GOAL = 54, 24, 26


def options(doc: str | None) -> argparse.ArgumentParser:
    """Return a parser that knows ``--short`` and shows a script's docstring as its help."""
    parser = argparse.ArgumentParser(
        description=doc, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--short", action="store_true", help="a try-out; proves nothing")
    return parser


def conditions(what: str) -> None:
    """Print what the figures below were measured on, the machine's load included."""
    load = os.getloadavg()[0]
    machine = f"{os.cpu_count()} cores, load {load:.1f}, Python {platform.python_version()}"
    _say(f"{what} ({machine})")


def figure(name: str, value: str, goal: str = "", met: bool | None = None) -> None:
    """Print one figure; `goal` and `met` are left out where it is only for comparison."""
    verdict = "" if met is None else "met" if met else "NOT met"
    _say(f"  {name:<{_NAME}}{value:>{_VALUE}}   {goal:<{_GOAL}}{verdict}".rstrip())


def _say(line: str) -> None:
    print(line, flush=True)
