"""``plan.yaml``, and what the journal says of the plan's lines.

The file is the engineer's: the program only adds entries at its end, comments kept. The order made by hand,
what is skipped and what is wanted once more are lines of the journal.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import msgspec

from audio.files.text import write_atomic
from audio.session import journal, layout
from audio.session.chains import chains as chains_of
from audio.session.disk import local_now, said_plainly
from audio.session.journal import Happened
from audio.session.opened import Session
from audio.vocab.chain import Chains
from audio.vocab.errors import UseError
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import BARE, PlanFile
from audio.vocab.plan_file import Known, entry_line, entry_text, parse_plan
from audio.vocab.section import Section
from audio.vocab.strict_yaml import Problems, load, read_text
from audio.vocab.yaml_text import BLOCK_STEP

PLUGGED: tuple[Happened, ...] = ("run bare", "run line")
"""Somebody said that a chain is plugged in."""

OF_LINES: tuple[Happened, ...] = (
    "plan ordered",
    "line skipped",
    "line again",
    *PLUGGED,
    "run pass",
)

_HEAD = """\
# Passes that are wanted, offered in the order that replugs least. Yours to edit: the program only ever
# adds entries at the end. `parts: all`, `song: NAME` and `chains: all` stand for what they say.
passes:
"""


class Noted(msgspec.Struct, frozen=True, kw_only=True):
    """What the journal says of the plan's lines, by their keys."""

    order: tuple[str, ...] = ()
    """The order made by hand, of as many lines as there were then; empty where there is none."""
    skipped: frozenset[str] = frozenset()
    again: dict[str, int] = {}
    """How often a line that was done shall be played once more."""
    took_s: dict[tuple[str, int], float] = {}
    """How long a pass took from its card to its verdict, by part and number."""
    plugged: tuple[str, str] | None = None
    """When somebody said last in a run that a chain is plugged in, ISO 8601, and its name."""


def read_plan(session: Session, known: Chains) -> PlanFile:
    """Return the plan; empty where there is no file; `UseError` with lines where it is wrong.

    Parameters
    ----------
    session
        Whose plan.
    known
        What ``chains: all`` stands for.

    Returns
    -------
    PlanFile
        In the order written.
    """
    path = layout.plan_yaml(session.folder)
    if not path.exists():
        return PlanFile()
    there = _known(session, known)
    return _parsed(read_text(path), str(path), tuple(there.parts.items()), there.chains)


@lru_cache(maxsize=8)
def _parsed(
    text: str, where: str, parts: tuple[tuple[str, tuple[str, ...]], ...], chains: tuple[str, ...]
) -> PlanFile:
    """Return what a plan says; one that has not changed is not read again: it is looked at all the time."""
    return parse_plan(text, where=where, known=Known(parts=dict(parts), chains=chains))


def noted(session: Session) -> Noted:
    """Return what the journal says of the plan; lines that are none are passed over."""
    order: tuple[str, ...] = ()
    skipped: set[str] = set()
    again: dict[str, int] = {}
    took: dict[tuple[str, int], float] = {}
    plugged: tuple[str, str] | None = None
    for entry in journal.told(session.folder, OF_LINES):
        facts = entry.facts
        key = facts.get("key")
        match entry.event:
            case "plan ordered":
                order = _keys(facts.get("keys"), order)
            case "line skipped" if isinstance(key, str):
                (skipped.add if facts.get("skipped") is True else skipped.discard)(key)
            case "line again" if isinstance(key, str):
                again[key] = again.get(key, 0) + 1
            case "run bare":
                plugged = entry.at, BARE_PATH
            case "run line" if isinstance(chain := facts.get("chain"), str) and key != BARE:
                plugged = entry.at, chain
            case "run pass":
                _take_time(facts, took)
            case _:
                pass
    return Noted(order=order, skipped=frozenset(skipped), again=again, took_s=took, plugged=plugged)


def want(
    session: Session,
    *,
    parts: tuple[str, ...],
    chains: tuple[str, ...],
    section: Section | None = None,
    clock: Callable[[], str] = local_now,
) -> None:
    """Add passes to ``plan.yaml``: each part through each chain; everything written there stays.

    Parameters
    ----------
    session
        Locked by the caller.
    parts
        Names of parts; one at least.
    chains
        Names of chains; one at least.
    section
        The stretch; the whole part where left out.
    clock
        Gives the time for the journal.

    Raises
    ------
    UseError
        If there is no such part, the file is wrong or is written in a way that cannot be added to, or
        the disk refuses; nothing is changed then.
    """
    names = [session.part(part)[1].name for part in parts]
    path = layout.plan_yaml(session.folder)
    fields = entry_text(names, chains, section)
    old = read_text(path) if path.exists() else _HEAD
    text = with_entry(
        old, entry_line(fields), where=str(path), known=_known(session, chains_of(session))
    )
    with said_plainly(path, doing="written"):
        write_atomic(path, text.encode())
    journal.append(session.folder, "plan wanted", entry=fields, clock=clock)


def order_by_hand(
    session: Session, keys: tuple[str, ...], *, clock: Callable[[], str] = local_now
) -> None:
    """Note an order made by hand; no keys mean the one that replugs least. `UseError` if it cannot be."""
    journal.append(session.folder, "plan ordered", keys=list(keys), clock=clock)


def skip(
    session: Session, key: str, *, skipped: bool, clock: Callable[[], str] = local_now
) -> None:
    """Note that a line is left out, or taken in again; `UseError` if the disk refuses."""
    journal.append(session.folder, "line skipped", key=key, skipped=skipped, clock=clock)


def again(session: Session, key: str, *, clock: Callable[[], str] = local_now) -> None:
    """Note that a line that is done shall be played once more; `UseError` if the disk refuses."""
    journal.append(session.folder, "line again", key=key, clock=clock)


def _known(session: Session, known: Chains) -> Known:
    return Known(
        parts={song.name: tuple(part.name for part in song.parts) for song in session.file.songs},
        chains=tuple(one.chain.name for one in known.found),
    )


def with_entry(text: str, line: str, *, where: str, known: Known) -> str:
    """Return a plan's text with an entry at its end, which means what it meant, and the entry.

    Parameters
    ----------
    text
        What is there.
    line
        The entry, as `entry_line` makes it.
    where
        The file's name for messages.
    known
        What ``all`` and ``song`` stand for.

    Returns
    -------
    str
        Begins with all of `text`.

    Raises
    ------
    UseError
        If the text is wrong, or written in a way that cannot be added to.
    """
    before = parse_plan(text, where=where, known=known)
    body = text if text.endswith("\n") or not text else f"{text}\n"
    root = load(text, problems=Problems(where)).value
    listed = root.get("passes") if isinstance(root, dict) else None
    if listed is None:
        body += "passes:\n"
    column = listed.column if listed is not None and listed.value else BLOCK_STEP
    added = f"{body}{' ' * column}{line}"
    try:
        after = parse_plan(added, where=where, known=known)
    except UseError:
        after = before
    if after.wanted[: len(before.wanted)] != before.wanted or after == before:
        raise UseError(
            f"{where} is written in a way that nothing can be added to safely; add this line to its"
            f" passes by hand: {line.strip()}"
        )
    return added


def _keys(value: Any, before: tuple[str, ...]) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        return before
    return tuple(value)


def _take_time(facts: dict[str, Any], took: dict[tuple[str, int], float]) -> None:
    part, number, seconds = facts.get("part"), facts.get("number"), facts.get("took_s")
    fits = isinstance(part, str) and isinstance(number, int) and isinstance(seconds, (int, float))
    if fits and not isinstance(seconds, bool):
        took[part, number] = float(seconds)  # type: ignore[index, arg-type]
