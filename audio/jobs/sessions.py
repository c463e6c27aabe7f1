"""Making a session, adding to it, and opening it in good order."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from audio.files.tempo import TempoFile
from audio.jobs.recovery import Mended, mend
from audio.jobs.talk import Listener
from audio.jobs.tempos import brought_tempo
from audio.session.checks import refuse_metre
from audio.session.folder import create, open_session
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.vocab.checked import Change
from audio.vocab.errors import UseError
from audio.vocab.names import name_problem, twin_key
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Song
from audio.vocab.strict_yaml import read_text
from audio.vocab.wiring import Wiring
from audio.vocab.wiring_file import read_wiring
from audio.work.client import Worker


class TempoAdded(msgspec.Struct, frozen=True, kw_only=True):
    """A tempo file that was added."""

    file: str
    """Relative to the session's folder."""
    slowest_bpm: float
    fastest_bpm: float
    tempos: int
    """Different ones, one after the other."""
    metres: tuple[str, ...]
    """As they come."""
    instead_of_bpm: float | None = None
    """What the song had until then, which is not used any more."""


class Added(msgspec.Struct, frozen=True, kw_only=True):
    """What `add_di`, `add_original`, `add_backing` or `add_tempo` did."""

    song: str
    new_song: bool = False
    """Whether the song came with it."""
    part: str | None = None
    """None for a backing track, or a tempo file alone."""
    revision: int | None = None
    """Number of the part's newest revision."""
    original: str | None = None
    """Name of the original that was added."""
    backing: str | None = None
    """The backing track that was added, relative to the session's folder."""
    tempo: TempoAdded | None = None
    """The tempo file that was added."""
    facts: AudioFacts | None = None
    """Of the sound file, where one was added."""
    change: Change | None = None
    """What a revision changed, where the one before it had been checked."""


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
    tempo: TempoFile | None = None,
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
    tempo
        Tempo file of the song, or None.
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
        if tempo is not None:
            session = session.add_tempo(None, tempo)
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
    tempo: TempoFile | None = None,
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
    tempo
        A new song's tempo file.
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
        session = session.add_part(
            source=path, facts=facts, channel=channel, name=name, song=song, tempo=tempo
        )
    of, noted = session.part(name)
    return Added(
        song=of.name,
        new_song=isinstance(song, Song),
        part=name,
        revision=len(noted.revisions),
        tempo=tempo_added(of, tempo),
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


def add_tempo(session: Session, path: Path, *, song: str | None, metre: str | None) -> Added:
    """Add a song's tempo file.

    Parameters
    ----------
    session
        Locked by the caller.
    path
        A Standard MIDI File or a label text file.
    song
        Its song; may be left out where there is only one.
    metre
        Noted with the song; None where the file or the song has it.

    Returns
    -------
    Added
        What it became.
    """
    of = session.song(song)
    refuse_metre(of, metre)
    tempo = brought_tempo(path, metre=metre, song_metre=of.metre)
    session = session.add_tempo(of.name, tempo, metre=metre)
    return Added(song=of.name, tempo=tempo_added(session.song(of.name), tempo))


def tempo_added(song: Song, tempo: TempoFile | None) -> TempoAdded | None:
    """Return what a tempo file became with a song; None where there is none."""
    if tempo is None or song.tempo_file is None:
        return None
    slowest, fastest = tempo.map.bpm_range
    return TempoAdded(
        file=song.tempo_file,
        slowest_bpm=slowest,
        fastest_bpm=fastest,
        tempos=len(tempo.map.tempos),
        metres=tuple(f"{one.metre}" for one in tempo.map.metres),
        instead_of_bpm=song.bpm,
    )
