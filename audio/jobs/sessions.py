"""Making a session, adding to it, and opening it in good order."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from audio.jobs.recovery import Mended, mend
from audio.jobs.talk import Listener
from audio.session.folder import create, open_session
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.names import name_problem, twin_key
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Song
from audio.vocab.strict_yaml import read_text
from audio.vocab.wiring import Wiring
from audio.vocab.wiring_file import read_wiring
from audio.work.client import Worker


class Added(msgspec.Struct, frozen=True, kw_only=True):
    """What `add_di`, `add_original` or `add_backing` did."""

    song: str
    new_song: bool = False
    """Whether the song came with it."""
    part: str | None = None
    """None for a backing track."""
    revision: int | None = None
    """Number of the part's newest revision."""
    original: str | None = None
    """Name of the original that was added."""
    backing: str | None = None
    """The backing track that was added, relative to the session's folder."""
    facts: AudioFacts


@contextmanager
def opened(folder: Path, *, program: str, worker: Worker, listener: Listener) -> Iterator[Session]:
    """Hold a session's lock, and first mend and judge what an earlier run left unfinished.

    `UseError` if it is no session, or another program holds it.

    Parameters
    ----------
    folder
        The session's folder.
    program
        Who holds the lock, such as ``secondpass pass``.
    worker
        Repairs and measures.
    listener
        Hears what was mended.

    Yields
    ------
    Session
        The session, every pass in it judged but those that are still recording.
    """
    session = open_session(folder.absolute())
    with lock_session(session.folder, program=program):
        for one in mend(session, worker):
            listener.heading(_mended(one))
        yield session


def _mended(one: Mended) -> str:
    return f"{one.part} {one.number:03d}: {one.text}"


def new_session(
    folder: Path,
    *,
    dis: tuple[Path, ...],
    channel: int,
    wiring_path: Path | None,
    song: str | None,
    bpm: float | None,
    metre: str | None,
    worker: Worker,
) -> tuple[Session, tuple[Added, ...]]:
    """Make a session with one song and a part for each DI.

    Everything that can be refused is looked at before the folder is made: `UseError`, and nothing is
    changed.

    Parameters
    ----------
    folder
        Must not exist, or be empty; its name is the session's.
    dis
        DI files.
    channel
        Channel of each that is the DI, from 1.
    wiring_path
        Wiring to copy in, or None.
    song
        Its name; the folder's when left out.
    bpm
        Tempo of the song, or None.
    metre
        Metre of the song, or None.
    worker
        Reads the DIs.

    Returns
    -------
    tuple of Session and of Added
        The session and what was added.
    """
    _check_part_names(dis)
    wiring_text = read_text(wiring_path) if wiring_path else None
    wiring = read_wiring(wiring_path) if wiring_path else None
    read = [(di, worker.inspect(di, channel=channel - 1)) for di in dis]
    for di, facts in read:
        check_rate(di, facts, wiring)
    name = folder.absolute().name

    def with_parts(session: Session) -> Session:
        for di, facts in read:
            session = session.add_part(source=di, facts=facts, channel=channel)
        return session

    session = create(
        folder.absolute(),
        name=name,
        song=song or name,
        bpm=bpm,
        metre=metre,
        wiring_text=wiring_text,
        fill=with_parts,
    )
    of = session.song().name
    return session, tuple(
        Added(song=of, part=di.stem, revision=1, facts=facts) for di, facts in read
    )


def _check_part_names(dis: tuple[Path, ...]) -> None:
    """Refuse files whose names cannot be parts, or would share their files on some disk."""
    seen: dict[str, Path] = {}
    for di in dis:
        if problem := name_problem(di.stem):
            raise UseError(f"{di}: {problem}")
        other = seen.setdefault(twin_key(di.stem), di)
        if other is not di:
            raise UseError(
                f"{other} and {di} would be one part, {di.stem}; rename one of the files, or add it"
                " later with `secondpass add --part NAME`"
            )


def check_rate(path: Path, facts: AudioFacts, wiring: Wiring | None) -> None:
    """Refuse a file whose rate the wiring cannot play."""
    if wiring is not None and facts.sample_rate != wiring.sample_rate:
        raise UseError(
            f"{path} is recorded at {facts.sample_rate} Hz and the wiring runs at"
            f" {wiring.sample_rate} Hz; export it at {wiring.sample_rate} Hz, or set sample_rate in the"
            " wiring"
        )


def add_di(
    session: Session,
    path: Path,
    *,
    channel: int,
    part: str | None,
    song: str | Song | None,
    worker: Worker,
) -> Added:
    """Add a DI: a new part, or the next revision of the part of that name.

    Parameters
    ----------
    session
        Locked by the caller.
    path
        The DI file.
    channel
        Which channel of it, from 1.
    part
        The part's name; the file's name without its ending when left out.
    song
        Song of a new part; may be left out where there is only one. A `Song` is a new one, which comes
        with a new part.
    worker
        Reads the DI.

    Returns
    -------
    Added
        What it became.
    """
    facts = worker.inspect(path, channel=channel - 1)
    check_rate(path, facts, session.wiring() if session.file.wiring else None)
    name = unicodedata.normalize("NFC", path.stem if part is None else part)
    known = {p.name for s in session.file.songs for p in s.parts}
    if name in known and not isinstance(song, Song):
        session = session.add_revision(name, source=path, facts=facts, channel=channel)
    else:
        session = session.add_part(source=path, facts=facts, channel=channel, name=name, song=song)
    of, noted = session.part(name)
    return Added(
        song=of.name,
        new_song=isinstance(song, Song),
        part=name,
        revision=len(noted.revisions),
        facts=facts,
    )


def add_original(
    session: Session, path: Path, *, channel: int, part: str, name: str | None, worker: Worker
) -> Added:
    """Add the amp as it was recorded when the part was first played.

    Parameters
    ----------
    session
        Locked by the caller.
    path
        The recording.
    channel
        Which channel of it, from 1.
    part
        Part it belongs to.
    name
        Which microphone or mix it is; the file's name when left out.
    worker
        Reads the file.

    Returns
    -------
    Added
        What it became.
    """
    facts = worker.inspect(path, channel=channel - 1)
    check_rate(path, facts, session.wiring() if session.file.wiring else None)
    named = path.stem if name is None else name
    session = session.add_original(part, source=path, facts=facts, channel=channel, name=named)
    of, noted = session.part(part)
    return Added(
        song=of.name, part=part, revision=len(noted.revisions), original=named, facts=facts
    )


def add_backing(session: Session, path: Path, *, song: str | None, worker: Worker) -> Added:
    """Add a song's backing track.

    Parameters
    ----------
    session
        Locked by the caller.
    path
        The recording; all its channels are kept.
    song
        Its song; may be left out where there is only one.
    worker
        Reads the file.

    Returns
    -------
    Added
        What it became.
    """
    of = session.song(song)
    facts = worker.inspect(path)
    check_rate(path, facts, session.wiring() if session.file.wiring else None)
    session = session.add_backing(of.name, source=path, facts=facts)
    backing = session.song(of.name).backing
    return Added(song=of.name, backing=None if backing is None else backing.file, facts=facts)
