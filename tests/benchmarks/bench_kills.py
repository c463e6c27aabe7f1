"""Kills each process of the program (-9) all over the life of a pass, and counts what survives.

A pass in the simulated room, as fast as it goes: once undisturbed, with every operation on a file noted.
Then face, engine, worker, or all of them at once die at moments drawn from the seed: half of them at one
of those operations (before it, after it, or with half of a write done), half at any time. After each the
session is opened again for a further pass, and everything is held against the undisturbed pass, to the
bit.

Survived means: every frame the system had been given is in a readable file and is what the room gave, no
file is gone or changed, the number is not used again, one sentence says what happened, what was recorded
is judged, the next pass is good, no process is left and none hung.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
from kills.passes import Attempt, Ground, attempt, prepare
from kills.points import ROLES, Moment, drawn
from report import conditions, figure, options


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--seed", type=int, default=5000, help="draws the moments")
    parser.add_argument("--each", type=int, default=100, help="moments for each process")
    parser.add_argument("--at-once", type=int, default=2, help="attempts beside each other")
    parser.add_argument("--only", choices=[*ROLES, "all"], help="kill only these")
    asked = parser.parse_args()
    each = 6 if asked.short else asked.each
    conditions(f"killed in mid-pass, seed {asked.seed}, {each} moments for each process")
    with tempfile.TemporaryDirectory(prefix="secondpass-kills-") as folder:
        ground = prepare(Path(folder))
        roles = [asked.only] if asked.only else [*ROLES, "all"]
        for at, role in enumerate(roles):
            rng = np.random.default_rng([asked.seed, at])
            moments = drawn(ground.notes, role, moments=each, lasts_s=ground.lasts_s, rng=rng)
            _report(role, _attempts(asked, ground, moments, Path(folder)))


def _attempts(
    asked: argparse.Namespace, ground: Ground, moments: list[Moment], folder: Path
) -> list[Attempt]:
    def one(moment: Moment) -> Attempt:
        with tempfile.TemporaryDirectory(dir=folder) as place:
            return attempt(ground, moment, Path(place))

    with concurrent.futures.ThreadPoolExecutor(asked.at_once) as pool:
        return list(pool.map(one, moments))


def _report(role: str, attempts: list[Attempt]) -> None:
    died = [one for one in attempts if one.died]
    survived = [one for one in attempts if not (one.found.wrong or one.processes_left or one.hung)]
    figure(f"{role}: attempts", f"{len(attempts)}, {len(died)} in time")
    figure(
        f"{role}: survived",
        f"{len(survived)}",
        "all",
        len(survived) == len(attempts),
    )
    lost = sum(one.found.frames_lost for one in attempts)
    figure(f"{role}: frames lost", f"{lost}", "0", lost == 0)
    left = sum(one.processes_left for one in attempts)
    hung = sum(one.hung for one in attempts)
    figure(
        f"{role}: processes left, commands that hung", f"{left}, {hung}", "0, 0", not left + hung
    )
    for state, count in sorted(Counter(one.state for one in attempts).items()):
        figure(f"  {state}", f"{count}")
    for one in attempts:
        if one not in survived:
            print(f"    {one.moment}: {'; '.join(one.found.wrong)} left {one.processes_left}")


if __name__ == "__main__":
    main()
