"""Making a session folder, whole or not at all, and opening one."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from audio.files import platform
from audio.files.text import write_new
from audio.session import layout
from audio.session.disk import said_plainly
from audio.session.model import parse_session, session_text, song_problem, title_problem
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.session_file import SessionFile, Song
from audio.vocab.strict_yaml import read_text
from audio.vocab.wiring_file import parse_wiring


def create(
    folder: Path,
    *,
    name: str,
    song: str,
    bpm: float | None = None,
    metre: str | None = None,
    song_start_s: float | None = None,
    wiring_text: str | None = None,
    fill: Callable[[Session], Session] | None = None,
) -> Session:
    """Make a session: the whole folder appears, or none of it.

    Parameters
    ----------
    folder
        Where; must not exist, or be empty.
    name
        The session's name.
    song
        Name of its first song.
    bpm
        Quarter notes a minute, 20 to 400.
    metre
        Such as ``4/4``.
    song_start_s
        Where bar 1 lies on the recorder's timeline, seconds, 0 to 86 400.
    wiring_text
        Text of a wiring file, kept with its comments as ``wiring.yaml``.
    fill
        Adds to the session before its folder gets its name; what it cannot add makes no session.

    Returns
    -------
    Session
        The session, with one song, and what `fill` has added.

    Raises
    ------
    UseError
        If the folder is not free, a value is wrong or the disk refuses; nothing is changed then.
    """
    target = folder.absolute()
    _refuse_unsayable(target)
    first = Song(name=song, bpm=bpm, metre=metre, song_start_s=song_start_s)
    if problem := title_problem(name) or song_problem(first):
        raise UseError(problem)
    if wiring_text is not None:
        parse_wiring(wiring_text, where="wiring")
    wiring = None if wiring_text is None else layout.WIRING
    text = session_text(SessionFile(name=name, wiring=wiring, songs=(first,)))
    file = parse_session(text, where="session.yaml")
    _refuse_taken(folder, target)
    with said_plainly(folder, doing="made"):
        filled = _build(target, text, wiring_text, fill or _as_it_is, file)
    return replace(filled, folder=target)


def _as_it_is(session: Session) -> Session:
    return session


def open_session(folder: Path) -> Session:
    """Return the session in a folder; `UseError` if there is none or ``session.yaml`` is wrong."""
    path = layout.session_yaml(folder)
    _refuse_unsayable(folder.absolute())
    if folder.exists() and not folder.is_dir():
        raise UseError(f"{folder}: this is a file; name the session's folder")
    if not folder.is_dir():
        raise UseError(f"{folder}: there is no such folder; make a session with `secondpass new`")
    if not path.exists():
        raise UseError(
            f"{folder}: this is no session (no session.yaml); name a session's folder, or make one with "
            "`secondpass new`"
        )
    return Session(folder=folder.absolute(), file=parse_session(read_text(path), where=str(path)))


def _refuse_unsayable(folder: Path) -> None:
    """Refuse a place whose name cannot be told to engine and worker, nor be written in a record."""
    try:
        str(folder).encode()
    except UnicodeEncodeError:
        raise UseError(
            f"{folder}: the name of a folder on the way has bytes in it that are no text; rename that "
            "folder, or put the session elsewhere"
        ) from None


def _refuse_taken(folder: Path, target: Path) -> None:
    with said_plainly(folder, doing="read"):
        if target.is_symlink() or (target.exists() and not target.is_dir()):
            raise UseError(f"{folder}: there is a file of this name; name another folder")
        if target.is_dir() and any(target.iterdir()):
            raise UseError(f"{folder}: the folder is not empty; name a new or an empty one")
        if target.is_dir() and target.resolve() == Path.cwd():
            raise UseError(
                f"{folder}: you are in this folder; leave it, then name it, or name a new one"
            )
        if not target.parent.is_dir():
            raise UseError(
                f"{folder}: its parent folder does not exist; make {target.parent} first"
            )


def _build(
    target: Path,
    text: str,
    wiring_text: str | None,
    fill: Callable[[Session], Session],
    file: SessionFile,
) -> Session:
    """Fill a folder beside the target, then give it the target's name in one step."""
    hidden = Path(
        tempfile.mkdtemp(prefix=f".{target.name[:40]}.", suffix=".new", dir=target.parent)
    )
    try:
        building = hidden / "session"
        building.mkdir()  # with the rights that new folders get here, which mkdtemp does not give
        for room in (layout.DI, layout.ORIGINALS, layout.PASSES):
            (building / room).mkdir()
        if wiring_text is not None:
            write_new(building / layout.WIRING, wiring_text)
        write_new(layout.session_yaml(building), text)
        layout.face_lock(building).touch()  # so that opening a session to look adds nothing to it
        with _told_of(building, target):
            filled = fill(Session(folder=building, file=file))
        if target.is_dir():
            target.rmdir()
        building.rename(target)
    finally:
        shutil.rmtree(hidden, ignore_errors=True)
    platform.sync_folder(target.parent)
    return filled


@contextmanager
def _told_of(building: Path, target: Path) -> Iterator[None]:
    """Say of the folder the engineer named what is wrong with the one that is being filled."""
    try:
        yield
    except UseError as error:
        raise UseError(str(error).replace(str(building), str(target))) from error
