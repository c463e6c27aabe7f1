"""Kills each process of the program (-9) all over the life of a pass, and counts what survives.

A pass in the simulated room, as fast as it goes: once undisturbed, with every operation on a file noted.
Then face, engine, worker, or all of them at once die at moments drawn from the seed: half of them at one
of those operations (before it, after it, or with half of a write done), half at any time. After each the
session is opened again for a further pass, and everything is held against the undisturbed pass, to the
bit.

Then the power fails: of a pass undisturbed is kept what each file held whenever it was handed to the disk,
and what a disk may hold after any of these steps is made from it, as little as POSIX promises.

Then a session is made, and added to in every way there is, and the face dies at every single operation on
a file, one after the other; the same command is given again, and every file that is named must be there,
whole, and nothing be lost.

Survived means: every frame the system had been given is in a readable file and is what the room gave, no
file is gone or changed, the number is not used again, one sentence says what happened, what was recorded
is judged, the next pass is good, no process is left and none hung.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

import numpy as np
import report
from kills import adding
from kills.passes import Attempt, after_power_failure, attempt, prepare
from kills.points import ROLES, PowerFailure, drawn

M = TypeVar("M")
A = TypeVar("A", Attempt, adding.Added)


def main() -> None:
    parser = report.options(__doc__)
    parser.add_argument("--seed", type=int, default=5000, help="draws the moments")
    parser.add_argument("--each", type=int, default=100, help="moments for each process")
    parser.add_argument("--at-once", type=int, default=2, help="attempts beside each other")
    parser.add_argument(
        "--only", choices=[*ROLES, "all", "power", "adding"], help="kill only these"
    )
    asked = parser.parse_args()
    each = 6 if asked.short else asked.each
    report.conditions(f"killed in mid-pass, seed {asked.seed}, {each} moments for each process")
    with tempfile.TemporaryDirectory(prefix="secondpass-kills-") as folder:
        if asked.only != "adding":
            _passes(asked, each, Path(folder))
        if asked.only in (None, "adding"):
            _adding(asked, Path(folder))


def _passes(asked: argparse.Namespace, each: int, folder: Path) -> None:
    ground = prepare(folder)
    roles = [asked.only] if asked.only else [*ROLES, "all", "power"]
    for role in roles:
        rng = np.random.default_rng([asked.seed, len(role)])
        if role == "power":
            steps = rng.integers(1, len(ground.disk.steps) + 1, size=each)
            failures = [PowerFailure(int(step), asked.seed) for step in steps]
            done = _beside(
                asked,
                folder,
                failures,
                lambda one, place: after_power_failure(ground, one, place),
            )
        else:
            moments = drawn(ground.notes, role, moments=each, lasts_s=ground.lasts_s, rng=rng)
            done = _beside(asked, folder, moments, lambda one, place: attempt(ground, one, place))
        _report(role, done)
        for state, count in sorted(Counter(one.state for one in done).items()):
            report.figure(f"  {state}", f"{count}")


def _adding(asked: argparse.Namespace, folder: Path) -> None:
    ground = adding.prepare(folder / "adding")
    for kind in adding.KINDS:
        moments = adding.moments(kind, ground, folder / "noted")
        if asked.short:
            moments = moments[:: max(1, len(moments) // 6)]
        done = _beside(
            asked,
            folder,
            moments,
            lambda one, place, kind=kind: adding.attempt(kind, ground, one, place),
        )
        _report(f"adding {kind.name}", done)


def _beside(
    asked: argparse.Namespace, folder: Path, moments: list[M], do: Callable[[M, Path], A]
) -> list[A]:
    """Make the attempts, some beside each other, each in a folder of its own."""

    def one(moment: M) -> A:
        with tempfile.TemporaryDirectory(dir=folder) as place:
            return do(moment, Path(place) / "evening")

    with concurrent.futures.ThreadPoolExecutor(asked.at_once) as pool:
        return list(pool.map(one, moments))


def _report(what: str, attempts: Sequence[Attempt | adding.Added]) -> None:
    bad = [one for one in attempts if one.found.wrong or one.processes_left or one.hung]
    lost = sum(one.found.frames_lost for one in attempts)
    left = sum(one.processes_left for one in attempts)
    hung = sum(one.hung for one in attempts)
    report.figure(
        f"{what}: survived", f"{len(attempts) - len(bad)} of {len(attempts)}", "all", not bad
    )
    report.figure(
        f"{what}: frames lost, left, hung",
        f"{lost}, {left}, {hung}",
        "0, 0, 0",
        not lost + left + hung,
    )
    for one in bad:
        print(f"    {one.moment}: {'; '.join(one.found.wrong)}")


if __name__ == "__main__":
    main()
