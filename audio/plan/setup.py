"""Which settings hold now: set, stale or wrong, and why.

Rules: a step without a record is ``not set``; one whose record says redo is ``wrong``; one measured through
another wiring, on another day's sitting, or for a part whose trim has changed since is ``stale``. The
send level belongs to a part, everything else to the wiring alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Literal

import msgspec

from audio.vocab.session_file import Part
from audio.vocab.setup import ReturnGainResult, SendLevelResult, SetupRecord, StepUsed
from audio.vocab.step_names import STEPS, StepName
from audio.vocab.wiring import Click, Wiring

StepState = Literal["not set", "set", "stale", "wrong"]

HOLDS_FOR = timedelta(hours=12)
"""Longer than a long day at the desk, shorter than a night in which somebody moves an amp (common
practice, no source)."""

OF_PART: tuple[StepName, ...] = ("send level",)
"""Steps whose result belongs to one part."""


class StepStatus(msgspec.Struct, frozen=True, kw_only=True):
    """One step as it stands."""

    step: StepName
    state: StepState
    why: str = ""
    """Why it is not set, in one sentence; empty where it is."""
    record: SetupRecord | None = None
    """The newest one, whatever its state."""

    @property
    def used(self) -> StepUsed:
        """What a variant made now says of it."""
        number = self.record.number if self.record else None
        return StepUsed(step=self.step, state=self.state, number=number)


def statuses(
    records: Sequence[SetupRecord], *, wiring: Wiring | None, part: Part | None, now: datetime
) -> tuple[StepStatus, ...]:
    """Return every step as it stands, in the order in which they are walked.

    Parameters
    ----------
    records
        Of the session, oldest first.
    wiring
        The session's; None where it has none.
    part
        The part that is played next; None where there is none.
    now
        With its offset.

    Returns
    -------
    tuple of StepStatus
        One for each of `STEPS`.
    """
    return tuple(_status(step, records, wiring, part, now) for step in STEPS)


def witness_gain_db(steps: Sequence[StepStatus]) -> float | None:
    """Return what the witness heard over what was sent since the part's send level was set.

    By that step itself where the witness is the input that recorded the part; else by the return gain, if
    that was measured afterwards with the same part: only then was the witness in the way.

    Parameters
    ----------
    steps
        As they stand for one part.

    Returns
    -------
    float | None
        None where the send level does not hold now, or no witness was wired.
    """
    known = {one.step: one.record for one in steps if one.state == "set" and one.record is not None}
    sent, gained = known.get("send level"), known.get("return gain")
    if sent is None or not isinstance(sent.outcome.result, SendLevelResult):
        return None
    if sent.outcome.result.witness_gain_db is not None or gained is None:
        return sent.outcome.result.witness_gain_db
    result = gained.outcome.result
    if not isinstance(result, ReturnGainResult) or gained.number < sent.number:
        return None
    return result.witness_gain_db if result.part == sent.part else None


def same_cables(one: Wiring, other: Wiring) -> bool:
    """Return whether two wirings are one to a cable: what is no cable in them aside."""
    return _cables(one) == _cables(other)


def of_same_cables(records: Sequence[SetupRecord], wiring: Wiring) -> list[SetupRecord]:
    """Return the records that were made through the same cables, in their order."""
    return [one for one in records if same_cables(one.wiring, wiring)]


def is_past(record: SetupRecord, *, now: datetime) -> bool:
    """Return whether a record is of another sitting."""
    return now - datetime.fromisoformat(record.made_at) > HOLDS_FOR


def _cables(wiring: Wiring) -> Wiring:
    return msgspec.structs.replace(
        wiring,
        name="",
        click=Click(),
        tail_s=0.0,
        depth=24,
        align_to="di",
        listen_outputs=(),
        cue=None,
        send_full_scale_dbu=None,
    )


def _status(
    step: StepName,
    records: Sequence[SetupRecord],
    wiring: Wiring | None,
    part: Part | None,
    now: datetime,
) -> StepStatus:
    newest = next((one for one in reversed(records) if _is_of(one, step, part)), None)
    if newest is None:
        return StepStatus(step=step, state="not set", why=_missing(step, part))
    if why := _outdated(newest, wiring, part, now):
        return StepStatus(step=step, state="stale", why=why, record=newest)
    if newest.verdict == "redo":
        why = newest.outcome.headline
        return StepStatus(step=step, state="wrong", why=why, record=newest)
    return StepStatus(step=step, state="set", record=newest)


def _is_of(record: SetupRecord, step: StepName, part: Part | None) -> bool:
    if record.step != step:
        return False
    return step not in OF_PART or (part is not None and record.part == part.name)


def _missing(step: StepName, part: Part | None) -> str:
    of = f" of {part.name}" if step in OF_PART and part is not None else ""
    return f"{step}{of}: not measured yet"


def _outdated(
    record: SetupRecord, wiring: Wiring | None, part: Part | None, now: datetime
) -> str | None:
    """Return why a record does not hold any more; None while it does."""
    what = f"the {record.step} was measured"
    if wiring is not None and not same_cables(record.wiring, wiring):
        return f"{what} through another wiring; measure it again"
    if record.step in OF_PART and part is not None and record.trim_db != part.trim_db:
        return f"{what} with another trim of {part.name}; measure it again"
    if is_past(record, now=now):
        return f"{what} on {record.made_at[:10]}; measure it again if anything was moved"
    return None
