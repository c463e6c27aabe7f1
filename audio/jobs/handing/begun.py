"""The folder of a hand-over: made for a new one, or found again with what an earlier try left in it."""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import msgspec

from audio.files import platform
from audio.files.lock import FileLock
from audio.files.text import write_new
from audio.handover import places
from audio.session import journal, layout
from audio.session.checks import file_stem
from audio.session.disk import local_now, said_plainly
from audio.session.formatted import content, decoded, pretty, refuse_untrue
from audio.session.lock import holder_text
from audio.session.opened import Session
from audio.vocab import strict_json
from audio.vocab.errors import UseError
from audio.vocab.handover import FileDone, HandoverAsked, HandoverOrder
from audio.vocab.names import is_inside

_LETTERS = "abcdefghijklmnopqrstuvwxyz234567"
"""None is taken for another one when somebody reads them out."""

TOKEN_LETTERS = 8


@dataclass(frozen=True, slots=True)
class Begun:
    """A hand-over that is not whole yet; its folder is locked."""

    folder: Path
    """Absolute."""
    order: HandoverOrder
    lock: FileLock
    resumed: bool

    def whole(self) -> dict[str, FileDone]:
        """Return the files an earlier try called whole, by path; whether they are has to be proven."""
        path = places.progress_jsonl(self.folder)
        if not path.exists():
            return {}
        return {one.path: one for line in content(path).split(b"\n") for one in _done(line)}

    def clear(self) -> None:
        """Take away what an earlier try left half written."""
        for piece in self.order.pieces:
            for path in (piece.path, *([piece.flac] if piece.flac else [])):
                with said_plainly(self.folder, doing="written"):
                    places.part_of(self.folder / path).unlink(missing_ok=True)

    def note(self, done: FileDone) -> None:
        """Note that a file is whole; nobody waits until the note has reached the disk."""
        path = places.progress_jsonl(self.folder)
        with said_plainly(path, doing="written"), path.open("ab") as file:
            file.write(b"\n" + msgspec.json.encode(done) + b"\n")

    def finish(self) -> None:
        """Take away what is there only until everything else is."""
        self.lock.release()
        with said_plainly(self.folder, doing="written"):
            shutil.rmtree(places.unfinished(self.folder))
            platform.sync_folder(self.folder)


def begin(
    session: Session,
    asked: HandoverAsked,
    *,
    out: Path | None,
    decide: Callable[[str, str], HandoverOrder],
) -> Begun:
    """Return a hand-over to go on with: one of the same that was begun before, or a new one.

    Parameters
    ----------
    session
        Whose sounds they are.
    asked
        What is wanted now.
    out
        The folder; None for the next one of the session's own.
    decide
        Given the name and the token of a new one.

    Returns
    -------
    Begun
        Locked.

    Raises
    ------
    UseError
        If the folder holds something else, another program writes it, what was decided cannot be read,
        or the disk refuses.
    """
    if out is None:
        return _own(session, asked, decide)
    folder = out.absolute()
    if places.order_json(folder).exists():
        found = _resumed(folder)
        if (found.order.asked, found.order.session) == (asked, session.file.name):
            return found
        found.lock.release()
        raise UseError(
            f"{folder} holds a hand-over that is not finished and was asked for otherwise; ask for the"
            " same, or name another folder"
        )
    _refuse_taken(folder)
    return _new(folder, decide)


def _own(
    session: Session, asked: HandoverAsked, decide: Callable[[str, str], HandoverOrder]
) -> Begun:
    above = layout.handovers(session.folder)
    stem, number = file_stem(session.file.name), 0
    with said_plainly(above, doing="read"):
        there = list(above.iterdir()) if above.is_dir() else []
    handed = journal.told(session.folder, ("handed over",))
    for name in (*(one.name for one in there), *(str(one.facts.get("name")) for one in handed)):
        head, _, tail = name.rpartition("-")
        if head == stem and tail.isascii() and tail.isdigit() and len(tail) < 9:
            number = max(number, int(tail))
    newest = above / f"{stem}-{number:03d}"
    if number and places.order_json(newest).exists():
        found = _resumed(newest)
        if found.order.asked == asked:
            return found
        found.lock.release()
    return _new(above / f"{stem}-{number + 1:03d}", decide)


def _new(folder: Path, decide: Callable[[str, str], HandoverOrder]) -> Begun:
    """Make a folder and note what is decided; nothing is left behind where that cannot be."""
    token = "".join(secrets.choice(_LETTERS) for _ in range(TOKEN_LETTERS))
    order = decide(folder.name, token)
    with said_plainly(folder, doing="made"):
        folder.mkdir(parents=True, exist_ok=True)
        places.unfinished(folder).mkdir()
        lock = _locked(folder)
        write_new(places.order_json(folder), pretty(order))
        platform.sync_folder(folder.parent)
    return Begun(folder=folder, order=order, lock=lock, resumed=False)


def _resumed(folder: Path) -> Begun:
    path = places.order_json(folder)
    order = decoded(content(path), path, HandoverOrder)
    refuse_untrue(path, _problem(order))
    return Begun(folder=folder, order=order, lock=_locked(folder), resumed=True)


def _locked(folder: Path) -> FileLock:
    lock = FileLock(places.lock(folder))
    lock.acquire(holder_text("secondpass handover", since=local_now()))
    return lock


def _problem(order: HandoverOrder) -> str:
    """Return what a program that decided it would never have written, empty if nothing."""
    handed = [path for one in order.pieces for path in (one.path, one.flac) if path]
    sources = [source.file for one in order.pieces for source in one.sources]
    outside = next((path for path in (*handed, *sources) if not is_inside(path)), None)
    return "" if outside is None else f"{outside!r} leads out of its folder"


def _refuse_taken(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise UseError(f"{folder}: there is a file of this name; name another folder")
    with said_plainly(folder, doing="read"):
        taken = folder.is_dir() and any(folder.iterdir())
    if taken:
        raise UseError(f"{folder}: the folder is not empty; name a new or an empty one")
    if not folder.parent.is_dir():
        raise UseError(f"{folder}: its parent folder does not exist; make {folder.parent} first")


def _done(line: bytes) -> list[FileDone]:
    with suppress(msgspec.ValidationError):
        return [strict_json.decode(_FILE_DONE, line)] if line else []
    return []  # torn


_FILE_DONE = msgspec.json.Decoder(FileDone)
