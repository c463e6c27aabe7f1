"""``journal.jsonl``: what happened and what people said, one line each, appended and never changed.

Words a reader does not know are kept: a newer program may have written them. A line that a crash tore is
passed over, and the next line begins on its own.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, Literal

import msgspec

from audio.files.text import append_line, read_whole
from audio.session import layout
from audio.session.disk import local_now, said_plainly
from audio.vocab import strict_json

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
    "tempo added",
    "wiring chosen",
    "set up",
    "sound kept",
    "trim set",
    "said",
    "chain saved",
    "plan wanted",
    "plan ordered",
    "line skipped",
    "line again",
    "run begun",
    "run line",
    "run bare",
    "run pass",
    "run held",
    "run ended",
    "joined",
    "findings accepted",
    "blind begun",
    "blind answer",
    "blind ended",
    "handed over",
    "choices read",
]
"""What this program writes. ``claimed``, ``judged``, ``recovered`` and ``empty`` (claimed, but nothing
rolled) have ``part`` and ``number``; what was added to a part ``part`` and ``file``; ``song added``
``song``; ``backing added`` and ``tempo added`` ``song`` and ``file``; ``wiring chosen`` ``file``;
``set up`` ``step`` and ``number``; ``sound kept`` ``name`` and ``file``;
``trim set`` ``part`` and ``trim_db``. Of a run all have ``run``, its number; ``run begun`` (also where
somebody goes on with it) has ``repeat_redo``; ``run line`` (before anything of it sounds) ``key``, ``part``
and ``chain``; ``run bare`` (the bare path was measured) and ``run ended`` nothing more; ``run pass``
``key``, ``part``, ``number``, ``verdict``, ``took_s`` and ``text``, its heaviest finding; ``run held``
``reason``. ``said`` (of a variant) has ``part``, ``number`` and what was said, each as
`audio.vocab.opinion.Opinion` has it: ``rating`` (0 takes it back), ``words`` and ``photo`` (one each),
``called``, ``chain`` with ``chain_content`` where it has a file (empty ones take them back),
``discarded``, ``balance``; ``keeper`` is whether it is one from then on, ``reason`` why, and the
``balance`` beside it the one it is kept with; ``choice`` is a listener's of a hand-over, place 0 takes it
back. Of the plan ``plan wanted`` has ``entry``, the fields as they
stand in ``plan.yaml``;
``plan ordered`` ``keys`` of lines in the order made by hand (none: the one that replugs least);
``line skipped`` ``key`` and ``skipped``; ``line again`` ``key``; ``chain saved`` ``name`` and ``file``.
``findings accepted`` has ``part``, ``revision`` and ``codes`` of what is to be sent as it is. Of a blind
sitting all have ``sitting``, its number; ``blind begun`` has ``part``, ``mode``, ``sounds``, ``listener``,
``planned`` and ``trials``, what lies behind the places of each; ``blind answer`` ``trial``, ``behind`` and
``said``; ``blind ended`` ``early``.
``handed over`` has ``name``, ``token`` and ``sounds``, the numbers of each part's; ``choices read``
``name``, ``token``, ``listener``, ``blind``, ``chosen``, the keys of each part's sounds in the order of
preference, ``words`` to a part's, and the text's ``checksum``."""


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
    return tuple(entry for entry in map(entry_of, _lines(folder)) if entry is not None)


def told(folder: Path, events: Sequence[Happened]) -> tuple[Entry, ...]:
    """Return the lines of some events only, in order; fails as `read` does.

    Of thousands of lines the others are not decoded.
    """
    found = (entry for entry in map(entry_of, _lines_with(folder, events)) if entry is not None)
    return tuple(entry for entry in found if entry.event in events)


def passes_noted(folder: Path, event: Happened) -> set[tuple[str, int]]:
    """Return part and number of every pass that has such a line; fails as `read` does.

    A session of thousands of passes has its whole journal looked through before each: of a line only
    what is asked for is taken.
    """
    return {
        (one.part, one.number)
        for one in map(_noted, _lines_with(folder, (event,)))
        if one is not None
        and one.event == event
        and isinstance(one.part, str)
        and isinstance(one.number, int)
    }


class _Noted(msgspec.Struct, frozen=True, kw_only=True):
    """What lines about passes have in common; anything where a line is about something else."""

    at: str
    event: str
    part: Any = None
    number: Any = None


_NOTED = msgspec.json.Decoder(_Noted)


def _noted(line: bytes) -> _Noted | None:
    try:
        return strict_json.decode(_NOTED, line)
    except msgspec.ValidationError:
        return None


def _lines(folder: Path) -> list[bytes]:
    return _content(folder).split(b"\n")


def _lines_with(folder: Path, events: Sequence[Happened]) -> list[bytes]:
    """Return the lines that name some events, in order; a hundred thousand others are not even split."""
    data = _content(folder)
    marks = (f'"{event}"'.encode() for event in events)
    places = sorted({one for mark in marks for one in _places(data, mark)})
    return [data[start:end] for start, end in places]


def _places(data: bytes, mark: bytes) -> Iterator[tuple[int, int]]:
    """Yield where each line begins and ends that has a mark in it."""
    at = data.find(mark)
    while at >= 0:
        end = data.find(b"\n", at)
        end = len(data) if end < 0 else end
        yield data.rfind(b"\n", 0, at) + 1, end
        at = data.find(mark, end)


def _content(folder: Path) -> bytes:
    path = layout.journal(folder)
    if not path.exists():
        return b""
    with said_plainly(path, doing="read"):
        return read_whole(path)


_LINE = msgspec.json.Decoder(dict[str, Any])


def entry_of(line: bytes) -> Entry | None:
    """Return what one line says; None where it is torn or is no line of a journal."""
    try:
        value = strict_json.decode(_LINE, line)
        at, event = value.pop("at"), value.pop("event")
        return strict_json.convert({"at": at, "event": event, "facts": value}, Entry)
    except (msgspec.ValidationError, KeyError):
        return None
