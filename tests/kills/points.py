"""The moments at which a process is killed: drawn from a seed, among all that a whole run does to files."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

Role = Literal["face", "engine", "worker"]
ROLES: tuple[Role, ...] = ("face", "engine", "worker")
_WHEN = ("before", "after", "half")


@dataclass(frozen=True)
class AtOperation:
    """Killed by its own hand, at one operation on a file."""

    role: str
    operation: str
    name: str
    nth: int
    when: str

    def __str__(self) -> str:
        return f"{self.role} {self.when} {self.operation} {self.name} #{self.nth}"

    @property
    def told(self) -> str:
        """What the watch in the process is told."""
        return "\t".join((self.role, self.operation, self.name, str(self.nth), self.when))


@dataclass(frozen=True)
class AtTime:
    """Killed from outside, some seconds after the start."""

    role: str
    """One of `ROLES`, or ``all`` of them at once."""
    seconds: float

    def __str__(self) -> str:
        return f"{self.role} at {self.seconds:.3f} s"


@dataclass(frozen=True)
class PowerFailure:
    """All of the machine, after one of the steps the disk saw."""

    step: int
    seed: int
    """Draws what had reached the disk of what was not handed over."""

    def __str__(self) -> str:
        return f"power, after step {self.step}, seed {self.seed}"


Moment = AtOperation | AtTime | PowerFailure


def read_notes(path: Path) -> Counter[tuple[str, str, str]]:
    """Return how often each (role, operation, file) happened in a whole run."""
    lines = path.read_text().splitlines()
    return Counter(tuple(line.split("\t")) for line in lines)  # type: ignore[misc]


def every(notes: Counter[tuple[str, str, str]], role: str) -> list[AtOperation]:
    """Return every moment of one process that does little: before, after and in the middle of each."""
    return [
        AtOperation(*kind, nth=nth, when=when)
        for kind, count in notes.items()
        if kind[0] == role
        for nth in range(1, count + 1)
        for when in _WHEN[: 3 if kind[1] == "write" else 2]
    ]


def drawn(
    notes: Counter[tuple[str, str, str]],
    role: str,
    *,
    moments: int,
    lasts_s: float,
    rng: np.random.Generator,
) -> list[Moment]:
    """Return so many moments, half of them at operations, half at times.

    Every kind of operation on every file is as likely, however often it happens: a journal is written
    once where a capture is a hundred times.
    """
    kinds = sorted(kind for kind in notes if kind[0] == role)
    found: list[Moment] = []
    for number in range(moments):
        if kinds and number % 2 == 0:
            kind = kinds[rng.integers(len(kinds))]
            nth = int(rng.integers(1, notes[kind] + 1))
            when = _WHEN[rng.integers(3 if kind[1] == "write" else 2)]
            found.append(AtOperation(*kind, nth=nth, when=when))
        else:
            found.append(AtTime(role, float(rng.uniform(0.0, lasts_s))))
    return found
