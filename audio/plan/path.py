"""The signal path as the engineer walks it: what state each stage is in, and what is left before a pass.

Rules: a stage is ``wrong`` when a pass through it would fail or be refused, ``not set`` when something has
to be given first, ``stale`` when what was measured there no longer holds, ``set`` otherwise.
"""

from __future__ import annotations

from typing import Literal

import msgspec

StageName = Literal["DI", "send", "chain", "amp", "mics", "returns", "variants"]
StageState = Literal["not set", "set", "stale", "wrong"]

STAGES: tuple[StageName, ...] = ("DI", "send", "chain", "amp", "mics", "returns", "variants")
"""In the order in which the signal runs."""

NEEDED: tuple[StageName, ...] = ("DI", "send", "chain")
"""Stages that must be set before a pass; the round trip is measured in each pass anyway."""


class Stage(msgspec.Struct, frozen=True, kw_only=True):
    """One stage as it stands."""

    name: StageName
    state: StageState
    detail: str
    """What it is set to, in two or three words; empty where there is nothing to say."""
    why: str = ""
    """What is missing or wrong, and the way out, in one sentence; empty where it is set."""
    later: bool = False
    """Nothing can be set here yet; no pass waits for it."""


class PathFacts(msgspec.Struct, frozen=True, kw_only=True):
    """All that the states depend on."""

    part: str | None
    """The part to be played."""
    di_problem: str = ""
    """Why its DI cannot be played."""
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
    newest_is_redo: bool = False


def stages(facts: PathFacts) -> tuple[Stage, ...]:
    """Return all stages in order."""
    return (
        _di(facts),
        _send(facts),
        _chain(facts),
        Stage(name="amp", state="not set", detail="", later=True),
        Stage(name="mics", state="not set", detail="", later=True),
        _returns(facts),
        _variants(facts),
    )


def first_open(all_stages: tuple[Stage, ...]) -> Stage:
    """Return where the cursor starts: the first stage that keeps a pass from starting, else the returns."""
    by_name = {stage.name: stage for stage in all_stages}
    open_ones = [by_name[name] for name in NEEDED if by_name[name].state != "set"]
    return open_ones[0] if open_ones else by_name["returns"]


def hindrance(all_stages: tuple[Stage, ...]) -> Stage | None:
    """Return the first stage that keeps a pass from starting, None when it may start."""
    found = first_open(all_stages)
    return found if found.name in NEEDED else None


def _di(facts: PathFacts) -> Stage:
    if facts.part is None:
        why = "the session has no DI yet; add one: secondpass add DIR --di FILE"
        return Stage(name="DI", state="not set", detail="", why=why)
    if facts.di_problem:
        return Stage(name="DI", state="wrong", detail=facts.part, why=facts.di_problem)
    return Stage(name="DI", state="set", detail=facts.part)


def _send(facts: PathFacts) -> Stage:
    if facts.wiring_problem:
        return Stage(name="send", state="not set", detail="", why=facts.wiring_problem)
    out = f"out {facts.send_output}"
    if facts.stream == "lost":
        return Stage(name="send", state="wrong", detail="stream lost", why=facts.stream_problem)
    if facts.stream == "other":
        why = "the stream runs with another wiring; open it with this one"
        return Stage(name="send", state="stale", detail=out, why=why)
    if facts.stream == "closed":
        why = "the stream is closed; put the amp on standby, then open it"
        return Stage(name="send", state="not set", detail=out, why=why)
    return Stage(name="send", state="set", detail=out)


def _chain(facts: PathFacts) -> Stage:
    if not facts.chain:
        why = "say what is plugged in: choose a chain, or name a new one"
        return Stage(name="chain", state="not set", detail="", why=why)
    return Stage(name="chain", state="set", detail=facts.chain)


def _returns(facts: PathFacts) -> Stage:
    if facts.wiring_problem:
        return Stage(name="returns", state="not set", detail="", why=facts.wiring_problem)
    mics = f"{facts.returns} {'mic' if facts.returns == 1 else 'mics'}"
    match facts.click:
        case "heard":
            return Stage(name="returns", state="set", detail=mics)
        case "unheard":
            return Stage(name="returns", state="wrong", detail=mics, why=facts.click_problem)
        case "old":
            why = "the test click is of another stream; every pass measures again"
            return Stage(name="returns", state="stale", detail=mics, why=why)
        case "none":
            why = "no test click yet; every pass begins with one"
            return Stage(name="returns", state="not set", detail=mics, why=why)


def _variants(facts: PathFacts) -> Stage:
    if not facts.variants:
        return Stage(name="variants", state="not set", detail="none yet")
    detail = f"{facts.variants}"
    if facts.newest_is_redo:
        why = "the newest pass is to be done again"
        return Stage(name="variants", state="wrong", detail=detail, why=why)
    return Stage(name="variants", state="set", detail=detail)
