"""A run over the plan: its states and what moves it from one to the next, in one table.

Rules:

- Nothing plays but what a person said go to: only ``go`` leads to ``playing``, and only from ``waiting``.
- A pass that is good, or good enough to be looked at later, brings the next card; with no line left to
  do the run is over.
- A pass to be done again holds the run; where one repeat was asked for, its card is shown once more
  instead and waits like any other. Only a pass that went to its end is repeated by that: before what
  stopped one (an amp that does not answer, a device, a person) somebody has to stand.
- A held run waits for a person, whatever else is done to the plan meanwhile; going on is ``begun`` again.
- A program that ended with a run under way has held it, whatever it was at.
- What the table does not name cannot happen: it is refused.
"""

from __future__ import annotations

from typing import Literal

from msgspec.structs import replace

from audio.vocab.findings import Verdict
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import PlanLine, PlanNow, RunNow, RunState

RunEvent = Literal[
    "begun",
    "go",
    "good",
    "look",
    "redo",
    "redo, repeated",
    "stopped",
    "failed",
    "hold",
    "skip",
    "again",
    "nothing left",
    "end",
    "program ended",
]
"""``begun`` also goes on with a held run. ``good``, ``look`` and ``redo`` are verdicts; ``redo, repeated``
is one that may be repeated. ``failed``: device, engine, or what was asked could not be played."""

TABLE: dict[RunState, dict[RunEvent, RunState]] = {
    "none": {"begun": "waiting"},
    "ended": {"begun": "waiting"},
    "waiting": {
        "go": "playing",
        "hold": "held",
        "skip": "waiting",
        "again": "waiting",
        "nothing left": "ended",
        "end": "ended",
        "program ended": "held",
    },
    "playing": {
        "good": "waiting",
        "look": "waiting",
        "redo": "held",
        "redo, repeated": "waiting",
        "stopped": "held",
        "failed": "held",
        "program ended": "held",
    },
    "held": {
        "begun": "waiting",
        "hold": "held",
        "skip": "held",
        "again": "held",
        "nothing left": "ended",
        "end": "ended",
        "program ended": "held",
    },
}

UNDER_WAY: tuple[RunState, ...] = ("waiting", "playing")
"""States of a run that somebody has to run: left alone in one of them, it is held."""


def after(state: RunState, event: RunEvent) -> RunState | None:
    """Return the state that follows; None where that cannot happen now."""
    return TABLE[state].get(event)


def verdict_event(verdict: Verdict, *, may_repeat: bool) -> RunEvent:
    """Return what a verdict does to a run."""
    return "redo, repeated" if verdict == "redo" and may_repeat else verdict


def may_repeat(run: RunNow, *, repeated: bool) -> bool:
    """Return whether a pass to be done again is repeated: once a line, until somebody goes on anew."""
    return run.repeat_redo and not repeated


def to_do(plan: PlanNow) -> tuple[PlanLine, ...]:
    """Return the lines that are left to do, in the order in which they are offered."""
    return tuple(line for line in plan.lines if line.state == "to do")


def standing_at(run: RunNow, plan: PlanNow, *, redone: frozenset[str] = frozenset()) -> RunNow:
    """Return a run with the line at which it stands, by the plan as it is now.

    Parameters
    ----------
    run
        As the journal has it; that of a line which plays stays.
    plan
        Its first line to do is the next.
    redone
        Keys of lines that were to be done again since somebody went on last.

    Returns
    -------
    RunNow
        With `at` empty where nothing is left to do, or no run is there.
    """
    if run.state == "playing":
        return replace(run, repeated=run.at in redone)
    if run.state in ("none", "ended"):
        return replace(run, at="", repeated=False)
    left = to_do(plan)
    at = left[0].wanted.key if left else ""
    return replace(run, at=at, repeated=at in redone)


def bare_comes_first(plan: PlanNow, *, without_pedals: frozenset[str]) -> bool:
    """Return whether the bare path is to be measured before the next line, in a stream without it.

    Parameters
    ----------
    plan
        As it stands.
    without_pedals
        Names of the chains that are known to have none.

    Returns
    -------
    bool
        False where no line that is left has a pedal, and where the next one is the bare path itself: its
        own opening click measures it.
    """
    left = to_do(plan)
    if not left or left[0].wanted.chain == BARE_PATH:
        return False
    return any(line.wanted.chain not in without_pedals | {BARE_PATH} for line in left)
