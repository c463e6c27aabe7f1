"""The plan: passes to come, in an order that replugs little; values only."""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.chain import Change
from audio.vocab.findings import Verdict
from audio.vocab.section import Section


class Costs(msgspec.Struct, frozen=True, kw_only=True):
    """What it costs to get from one chain to the next, in points; a point is about the turn of a knob."""

    knob: float = 1.0
    """A knob, a switch, a setting of an amp, a preamp or a microphone."""
    plug: float = 2.0
    """A cable pulled or put."""
    pedal: float = 5.0
    """A pedal fetched or put away, its cables not counted."""
    amp: float = 40.0
    """Another amp: standby, speaker, warming up, microphones."""


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """One pass that is wanted."""

    key: str
    """What tells it from all others of the plan: part, chain, section, and which time it is."""
    part: str
    chain: str
    section: Section | None = None
    time: int = 1
    """Of the same part, chain and section: the first, the second ..."""


class PlanFile(msgspec.Struct, frozen=True, kw_only=True):
    """The content of ``plan.yaml``: what is wanted, in the order written."""

    wanted: tuple[Wanted, ...] = ()
    costs: Costs = Costs()


LineState = Literal["to do", "done", "skipped", "cannot"]
"""``cannot``: there is no such part any more, nobody knows where its bars lie, or its section lies outside
the DI; a DI that nobody has checked yet is read when it is to be played."""


class PlanLine(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the plan as it stands."""

    wanted: Wanted
    song: str = ""
    touch: tuple[Change, ...] = ()
    """What has to be touched after the line before it."""
    cost: float = 0.0
    known: bool = True
    """A file tells how its chain is set, or it has no pedal; otherwise nobody can tell what to touch."""
    state: LineState = "to do"
    why: str = ""
    """Why it cannot be played; one sentence."""
    number: int | None = None
    """The variant that answers it."""
    verdict: Verdict | None = None
    took_s: float | None = None
    """From its card to its verdict."""


class PlanNow(msgspec.Struct, frozen=True, kw_only=True):
    """The plan as it stands: lines in the order in which they are offered."""

    lines: tuple[PlanLine, ...] = ()
    cost: float = 0.0
    """Of everything, from what is plugged in now to the last line, points."""
    written_cost: float = 0.0
    """The same in the order written."""
    exact: bool = True
    """No order costs less; otherwise it was found by a heuristic."""
    by_hand: bool = False
    """Somebody changed the order; `cost` is that of theirs."""
    problem: str = ""
    """Why there is none: what is wrong in ``plan.yaml``, each with its line; empty where nothing is."""

    def line(self, key: str) -> PlanLine | None:
        """Return the line of a key."""
        return next((one for one in self.lines if one.wanted.key == key), None)


RunState = Literal["none", "waiting", "playing", "held", "ended"]
"""No run; its next card waits for a person; a pass of it plays; stopped with a reason, until a person goes
on; over."""


class RunNow(msgspec.Struct, frozen=True, kw_only=True):
    """A run as it stands."""

    state: RunState = "none"
    number: int = 0
    """Of the run, from 1."""
    at: str = ""
    """Key of the line whose card is shown, or that plays; `BARE` for the measurement of the bare path."""
    reason: str = ""
    """Why it is held; one line in trade words."""
    looks: tuple[str, ...] = ()
    """What was collected on the way: passes to be looked at, one line each."""
    repeat_redo: bool = False
    """A pass to be done again is repeated once before the run is held."""
    repeated: bool = False
    """The line at which it stands was repeated already."""


BARE = "bare path"
"""In place of a line's key: the round trip without pedals is measured, once in a stream."""
