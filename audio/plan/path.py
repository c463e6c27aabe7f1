"""The signal path as the engineer walks it: what state each stage is in, and what is left before a pass.

Rules: a stage is ``wrong`` when a pass through it would fail or be refused, or a step of the set-up found
it so; ``not set`` when something has to be given first, or nothing was measured; ``stale`` when what was
measured there no longer holds; ``set`` otherwise. Only what a pass cannot do without keeps it from
starting: every step can be skipped.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.plan.setup import StepState, StepStatus
from audio.vocab.step_names import StepName

StageName = Literal["DI", "send", "chain", "amp", "mics", "returns", "variants"]
StageState = Literal["not set", "set", "stale", "wrong"]

STAGES: tuple[StageName, ...] = ("DI", "send", "chain", "amp", "mics", "returns", "variants")
"""In the order in which the signal runs."""

STEPS_AT: dict[StageName, tuple[StepName, ...]] = {
    "send": ("wire", "send level"),
    "amp": ("silence", "sound"),
    "mics": ("polarity",),
    "returns": ("return gain", "delay"),
}
"""Which steps of the set-up are walked where."""

CLOSED = "the stream is closed; put the amp on standby, then open it"
"""Why nothing can be sent yet."""

HEAVIEST: tuple[StepState, ...] = ("wrong", "stale", "set", "not set")
"""Of several steps of a stage the first of these that one is in is the stage's."""


class Stage(msgspec.Struct, frozen=True, kw_only=True):
    """One stage as it stands."""

    name: StageName
    state: StageState
    detail: str
    """What it is set to, in two or three words; empty where there is nothing to say."""
    why: str = ""
    """What is missing or wrong, and the way out, in one sentence; empty where it is set."""
    hinders: bool = False
    """A pass cannot start before it is set."""


class PathFacts(msgspec.Struct, frozen=True, kw_only=True):
    """All that the states depend on."""

    part: str | None
    """The part to be played."""
    di_problem: str = ""
    """Why its DI cannot be played."""
    di_worst: int = 0
    """Findings of its DI that will spoil a pass, and that nobody has accepted."""
    di_looks: int = 0
    """Those that may be heard."""
    wiring_problem: str = ""
    """Why there is no wiring."""
    send_output: int | None = None
    """From 1."""
    stream: Literal["closed", "open", "other", "lost"] = "closed"
    """``other``: it runs with another wiring than the session's."""
    stream_problem: str = ""
    """Why the stream is lost."""
    chain: str = ""
    click: Literal["none", "heard", "unheard", "old"] = "none"
    """``old``: measured in a stream that is closed, or through another chain."""
    click_problem: str = ""
    """Why it was not heard."""
    returns: int = 0
    """Microphones wired."""
    variants: int = 0
    """Of the part."""
    keepers: int = 0
    """Those of them that were chosen."""
    newest_is_redo: bool = False
    steps: tuple[StepStatus, ...] = ()
    """The set-up as it stands."""


def stages(facts: PathFacts) -> tuple[Stage, ...]:
    """Return all stages in order."""
    return (
        _di(facts),
        _send(facts),
        _chain(facts),
        _of_steps(facts, "amp"),
        _of_steps(facts, "mics"),
        _returns(facts),
        _variants(facts),
    )


def first_open(all_stages: tuple[Stage, ...]) -> Stage:
    """Return where the cursor starts: what keeps a pass from starting, else the first that is not right."""
    before_a_pass = [stage for stage in all_stages if stage.name != "variants"]
    open_ones = [stage for stage in before_a_pass if stage.state != "set"]
    return hindrance(all_stages) or (open_ones or before_a_pass)[0 if open_ones else -1]


def hindrance(all_stages: tuple[Stage, ...]) -> Stage | None:
    """Return the first stage that keeps a pass from starting, None when it may start."""
    return next((stage for stage in all_stages if stage.hinders), None)


def _di(facts: PathFacts) -> Stage:
    if facts.part is None:
        why = "the session has no DI yet; add one: secondpass add DIR --di FILE"
        return Stage(name="DI", state="not set", detail="", why=why, hinders=True)
    if facts.di_problem:
        return Stage(
            name="DI", state="wrong", detail=facts.part, why=facts.di_problem, hinders=True
        )
    if facts.di_worst:
        many = "1 finding" if facts.di_worst == 1 else f"{facts.di_worst} findings"
        why = (
            f"the DI is not ready: {many} will be heard in every pass; mend it in the editor first"
        )
        return Stage(name="DI", state="wrong", detail=facts.part, why=why)
    many = "1 finding" if facts.di_looks == 1 else f"{facts.di_looks} findings"
    why = f"{many} of the DI may be heard; look" if facts.di_looks else ""
    return Stage(name="DI", state="set", detail=facts.part, why=why)


def _send(facts: PathFacts) -> Stage:
    if facts.wiring_problem:
        return Stage(
            name="send", state="not set", detail="", why=facts.wiring_problem, hinders=True
        )
    out = f"out {facts.send_output}"
    if facts.stream == "lost":
        why = facts.stream_problem
        return Stage(name="send", state="wrong", detail="stream lost", why=why, hinders=True)
    if facts.stream == "other":
        why = "the stream runs with another wiring; open it with this one"
        return Stage(name="send", state="stale", detail=out, why=why, hinders=True)
    if facts.stream == "closed":
        return Stage(name="send", state="not set", detail=out, why=CLOSED, hinders=True)
    return _of_steps(facts, "send", detail=out, stands=True)


def _chain(facts: PathFacts) -> Stage:
    if not facts.chain:
        why = "say what is plugged in: choose a chain, or name a new one"
        return Stage(name="chain", state="not set", detail="", why=why, hinders=True)
    return Stage(name="chain", state="set", detail=facts.chain)


def _returns(facts: PathFacts) -> Stage:
    if facts.wiring_problem:
        return Stage(name="returns", state="not set", detail="", why=facts.wiring_problem)
    mics = f"{facts.returns} {'mic' if facts.returns == 1 else 'mics'}"
    heard = facts.click == "heard"
    measured = _of_steps(facts, "returns", detail=mics, stands=heard)
    match facts.click:
        case "unheard":
            return Stage(name="returns", state="wrong", detail=mics, why=facts.click_problem)
        case "old" if measured.state in ("set", "not set"):
            why = "the test click is of another stream; every pass measures again"
            return Stage(name="returns", state="stale", detail=mics, why=why)
        case "none" if measured.state == "not set":
            why = "no test click yet; every pass begins with one"
            return msgspec.structs.replace(measured, why=why)
        case _:
            return measured


def _of_steps(
    facts: PathFacts, name: StageName, *, detail: str = "", stands: bool = False
) -> Stage:
    """Return a stage by what its steps of the set-up found, the heaviest first.

    Where `stands`, a pass may go through as it is: then it is set though nothing was measured there.
    """
    here = [one for one in facts.steps if one.step in STEPS_AT[name]]
    found = (s for s in HEAVIEST if any(one.state == s for one in here))
    state: StageState = next(found, "not set")
    those = [one for one in here if one.state == state]
    why = next((one.why for one in those if one.why), "")
    said = next((one.record.outcome.summary for one in those if one.record is not None), "")
    if state == "not set" and stands:
        state = "set"
    if state == "set":
        why = next((one.why for one in here if one.state == "not set"), "")
    return Stage(name=name, state=state, detail=detail or said, why=why)


def _variants(facts: PathFacts) -> Stage:
    if not facts.variants:
        return Stage(name="variants", state="not set", detail="none yet")
    detail = f"{facts.variants}, {facts.keepers} kept" if facts.keepers else f"{facts.variants}"
    if facts.newest_is_redo:
        why = "the newest pass is to be done again"
        return Stage(name="variants", state="wrong", detail=detail, why=why)
    return Stage(name="variants", state="set", detail=detail)
