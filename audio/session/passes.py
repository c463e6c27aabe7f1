"""Pass folders: numbers are claimed by making one, and each tells what has become of its pass.

Nothing here deletes or renames. A number that was ever used, by a folder that is there or one the
journal remembers, is never used again.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Literal

import msgspec

from audio.files import platform
from audio.files.lock import holder, is_held
from audio.session import journal, layout
from audio.session.disk import local_now, said_plainly
from audio.session.opened import Session
from audio.vocab.names import shortened, slug

LONGEST_FILE_NAME_BYTES = 200
"""Common file systems end at 255; copies add to names."""

_LONGEST_RETURN_BYTES = 60

State = Literal["claimed", "still finishing", "finished", "torn", "done"]
"""``claimed``: only a number, nothing rolled; ``still finishing``: the engine writes; ``finished``: the
engine's record is there, to be judged; ``torn``: recordings without record, to be repaired; ``done``."""


class Claim(msgspec.Struct, frozen=True, kw_only=True):
    """A number and its folder."""

    part: str
    number: int
    folder: Path


class Unfinished(msgspec.Struct, frozen=True, kw_only=True):
    """A pass that left no variant yet."""

    part: str
    number: int
    folder: Path
    state: State


def claim(session: Session, part: str, *, clock: Callable[[], str] = local_now) -> Claim:
    """Claim the next number of a part; `UseError` if there is no such part or the disk refuses.

    Parameters
    ----------
    session
        The session; whoever claims holds its lock, yet two that race get two numbers.
    part
        The part's name.
    clock
        Gives the time for the journal.

    Returns
    -------
    Claim
        The highest number ever used plus one, and its new, empty folder.
    """
    name = session.part(part)[1].name
    parent = layout.part_passes(session.folder, name)
    with said_plainly(parent, doing="written"):
        parent.mkdir(parents=True, exist_ok=True)
        platform.sync_folder(parent.parent)  # its own name, too, must be on the disk
        number = _highest(session, name) + 1
        while not _made(folder := layout.pass_folder(session.folder, name, number)):
            number += 1
        platform.sync_folder(parent)
    journal.append(session.folder, "claimed", part=name, number=number, clock=clock)
    return Claim(part=name, number=number, folder=folder)


def capture_name(part: str, number: int, chain: str, return_name: str) -> str:
    """Return the file name of one return of a pass, such as ``rhythm-left_007_fuzz_close.wav``.

    Parameters
    ----------
    part
        Name of the part, as it is.
    number
        Number of the pass, from 1.
    chain
        Name of the chain; becomes small letters and dashes.
    return_name
        Name of the return; the same.

    Returns
    -------
    str
        At most `LONGEST_FILE_NAME_BYTES` in UTF-8; what is cut ends in digits that keep it apart.
    """
    head = f"{part}_{number:03d}_"
    tail = f"_{shortened(slug(return_name), longest_bytes=_LONGEST_RETURN_BYTES)}.wav"
    left = LONGEST_FILE_NAME_BYTES - len(head.encode()) - len(tail.encode())
    return f"{head}{shortened(slug(chain), longest_bytes=left)}{tail}"


def folders(session: Session, part: str | None = None) -> tuple[Claim, ...]:
    """Return every pass folder of a session, or of one part, by part and number."""
    return tuple(claim_at(*one) for one in listed(session, part))


def listed(session: Session, part: str | None = None) -> list[tuple[str, int, str]]:
    """Return part, number and path of every pass folder, or of one part's, by part and number.

    As plain values: thousands of paths cost more than looking at what they lead to.
    """
    top = layout.passes(session.folder)
    with said_plainly(top, doing="read"):
        parts = [part] if part is not None else [one.name for one in _subfolders(top)]
        return sorted(
            (name, int(one.name), one.path)
            for name in parts
            for one in _subfolders(layout.part_passes(session.folder, name))
            if _is_number(one.name)
        )


def claim_at(part: str, number: int, path: str) -> Claim:
    """Return one of `listed` as the claim it is."""
    return Claim(part=part, number=number, folder=Path(path))


def undone(session: Session) -> tuple[Claim, ...]:
    """Return the pass folders of a session that have no variant, by part and number."""
    return tuple(claim_at(*one) for one in listed(session) if not _has_variant(one[2]))


def state_of(folder: Path) -> State:
    """Return what has become of the pass in a folder; `UseError` if the folder cannot be read.

    The engine takes its lock before it makes a recording and writes its record before it lets go. Looked
    at in the opposite order, a pass that goes on meanwhile is never taken for a torn one.
    """
    with said_plainly(folder, doing="read"):
        if platform.is_taken(layout.variant_json(folder)):
            return "done"
        recorded = any(folder.glob("*.wav"))
        if is_held(layout.pass_lock(folder)):
            return "still finishing"
        if layout.roll_json(folder).exists():
            return "finished"
    return "torn" if recorded else "claimed"


def writer_of(folder: Path) -> int | None:
    """Return the process id of the engine that still writes a pass, None where none does."""
    lock = layout.pass_lock(folder)
    with said_plainly(folder, doing="read"):
        text = holder(lock) if is_held(lock) else ""
    _, _, pid = text.rpartition(" ")
    return int(pid) if pid.isdecimal() else None


def unfinished(session: Session) -> tuple[Unfinished, ...]:
    """Return the passes that left no variant, without those the journal calls ``empty``."""
    left = undone(session)
    empty = journal.passes_noted(session.folder, "empty") if left else set()
    found = []
    for one in left:
        state = state_of(one.folder)
        settled = state in ("claimed", "torn") and (one.part, one.number) in empty
        if state != "done" and not settled:
            found.append(
                Unfinished(part=one.part, number=one.number, folder=one.folder, state=state)
            )
    return tuple(found)


def _highest(session: Session, part: str) -> int:
    claimed = journal.passes_noted(session.folder, "claimed")
    remembered = [number for name, number in claimed if name == part]
    names = [one.name for one in layout.part_passes(session.folder, part).iterdir()]
    return max([0, *remembered, *(int(name) for name in names if _is_number(name))])


def _made(folder: Path) -> bool:
    try:
        folder.mkdir()
    except FileExistsError:
        return False
    return True


def _is_number(name: str) -> bool:
    return name.isascii() and name.isdigit() and len(name) <= 9


def _has_variant(folder: str) -> bool:
    return platform.is_taken(f"{folder}{os.sep}{layout.VARIANT_JSON}")


def _subfolders(folder: Path) -> list[os.DirEntry[str]]:
    if not folder.is_dir():
        return []
    with os.scandir(folder) as entries:
        return [one for one in entries if one.is_dir()]
