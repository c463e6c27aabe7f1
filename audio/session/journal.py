"""``journal.jsonl``: what happened and what people said, one line each, appended and never changed.

Words a reader does not know are kept: a newer program may have written them. A line that a crash tore is
passed over, and the next line begins on its own.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import msgspec

from audio.files.text import append_line
from audio.session import layout
from audio.session.disk import local_now, said_plainly

Happened = Literal[
    "claimed",
    "judged",
    "recovered",
    "empty",
    "part added",
    "revision added",
    "original added",
    "song added",
    "backing added",
    "wiring chosen",
]
"""What this program writes. ``claimed``, ``judged``, ``recovered`` and ``empty`` (claimed, but nothing
rolled) have ``part`` and ``number``; what was added to a part ``part`` and ``file``; ``song added``
``song``; ``backing added`` ``song`` and ``file``; ``wiring chosen`` ``file``."""


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the journal."""

    at: str
    """Local time with offset, ISO 8601."""
    event: str
    """One of `Happened`, or a word this program does not know."""
    facts: dict[str, Any] = {}
    """Everything else in the line."""


def append(
    folder: Path, event: Happened, *, clock: Callable[[], str] = local_now, **facts: object
) -> None:
    """Append one line; `UseError` if the disk refuses.

    Parameters
    ----------
    folder
        The session's folder.
    event
        What happened.
    clock
        Gives the time, ISO 8601.
    **facts
        What belongs to it; anything JSON can hold.
    """
    path = layout.journal(folder)
    with said_plainly(path, doing="written"):
        append_line(path, json.dumps({"at": clock(), "event": event, **facts}, ensure_ascii=False))


def read(folder: Path) -> tuple[Entry, ...]:
    """Return every readable line in order, none where there is no journal; `UseError` if unreadable."""
    path = layout.journal(folder)
    if not path.exists():
        return ()
    with said_plainly(path, doing="read"):
        lines = path.read_bytes().split(b"\n")
    return tuple(entry for entry in map(_entry, lines) if entry is not None)


def _entry(line: bytes) -> Entry | None:
    try:
        value = msgspec.json.decode(line, type=dict[str, Any])
        at, event = value.pop("at"), value.pop("event")
        return msgspec.convert({"at": at, "event": event, "facts": value}, Entry)
    except (msgspec.MsgspecError, KeyError):
        return None
