"""``plan.yaml``, and what the journal says of the plan and its runs."""

from __future__ import annotations

import msgspec

from audio.session.opened import Session
from audio.vocab.plan import PlanFile
from audio.vocab.section import Section


class Noted(msgspec.Struct, frozen=True, kw_only=True):
    """What the journal says of the plan's lines, by their keys."""

    order: tuple[str, ...] = ()
    """The order made by hand, of as many lines as there were then; empty where there is none."""
    skipped: frozenset[str] = frozenset()
    again: dict[str, int] = {}
    """How often a line that was done shall be played once more."""
    took_s: dict[tuple[str, int], float] = {}
    """How long a pass took from its card to its verdict, by part and number."""


def read_plan(session: Session) -> PlanFile:
    """Return the plan; empty where there is no file; `UseError` with lines where it is wrong."""
    del session
    return PlanFile()


def noted(session: Session) -> Noted:
    """Return what the journal says of the plan."""
    del session
    return Noted()


def want(
    session: Session,
    *,
    parts: tuple[str, ...],
    chains: tuple[str, ...],
    section: Section | None = None,
) -> None:
    """Add passes to ``plan.yaml``, comments kept: each part through each chain.

    `UseError` if there is no such part, or the file is written in a way that cannot be added to safely.
    """
    raise NotImplementedError


def order_by_hand(session: Session, keys: tuple[str, ...]) -> None:
    """Note an order made by hand; no keys mean the one that replugs least."""
    raise NotImplementedError


def skip(session: Session, key: str, *, skipped: bool) -> None:
    """Note that a line is left out, or taken in again."""
    raise NotImplementedError


def again(session: Session, key: str) -> None:
    """Note that a line that is done shall be played once more."""
    raise NotImplementedError
