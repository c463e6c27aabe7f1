"""Jobs that stand alone, as the command line runs them: open what is needed, do one thing, close it."""

from __future__ import annotations

from pathlib import Path

import msgspec
from msgspec.structs import replace

from audio.files.awake import Awake
from audio.jobs.additions import TEMPO_TWICE, Addition
from audio.jobs.deck import Deck
from audio.jobs.delays import measure_delay
from audio.jobs.passes import Passed, asked_for, run_pass
from audio.jobs.placing import Known
from audio.jobs.readiness import check_part
from audio.jobs.recovery import mend
from audio.jobs.sessions import (
    Added,
    TempoAdded,
    add_backing,
    add_di,
    add_original,
    add_tempo,
    new_session,
    opened,
    tempo_added,
)
from audio.jobs.talk import Listener
from audio.jobs.tempos import brought_tempo
from audio.jobs.unready import accept_open
from audio.session.checks import refuse_metre
from audio.session.folder import open_session
from audio.session.opened import Session
from audio.session.readiness import remembered
from audio.vocab.delay import Delay
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.section import Section
from audio.vocab.session_file import Song
from audio.vocab.wiring import Wiring
from audio.vocab.wiring_file import read_wiring
from audio.work.client import Worker


class Made(msgspec.Struct, frozen=True, kw_only=True):
    """A new session."""

    session: str
    """Its folder, absolute."""
    parts: tuple[Added, ...]
    tempo: TempoAdded | None = None


def make_session(
    folder: Path,
    *,
    dis: tuple[Path, ...],
    channel: int,
    wiring_path: Path | None,
    bpm: float | None,
    metre: str | None,
    tempo_path: Path | None = None,
) -> Made:
    """Make a session; see `audio.jobs.sessions.new_session`.

    Parameters
    ----------
    folder
        Must not exist, or be empty.
    dis
        DI files.
    channel
        Channel of each, from 1.
    wiring_path
        Wiring to copy in, or None.
    bpm
        Tempo of the song, or None.
    metre
        Metre of the song, or None.
    tempo_path
        Tempo file of the song, or None.

    Returns
    -------
    Made
        What was made.

    Raises
    ------
    UseError
        If a tempo is given twice, or anything else cannot be; nothing is changed then.
    """
    if tempo_path is not None and bpm is not None:
        raise UseError(TEMPO_TWICE)
    refuse_metre(Song(name="new"), metre)
    tempo = None if tempo_path is None else brought_tempo(tempo_path, metre=metre)
    with Worker() as worker:
        session, added = new_session(
            folder,
            dis=dis,
            channel=channel,
            wiring_path=wiring_path,
            song=None,
            bpm=bpm,
            metre=metre,
            tempo=tempo,
            worker=worker,
        )
    told = tempo_added(session.song(), tempo)
    return Made(session=str(session.folder), parts=added, tempo=told)


def add_to_session(folder: Path, asked: Addition, *, listener: Listener) -> Added:
    """Add a DI, an original, a backing track or a tempo file; see `audio.jobs.sessions`.

    Parameters
    ----------
    folder
        The session's folder.
    asked
        What to add, and where it belongs.
    listener
        Hears what was mended on opening.

    Returns
    -------
    Added
        What it became.

    Raises
    ------
    UseError
        If what was asked for contradicts itself, or anything else cannot be.
    """
    if problem := asked.problem():
        raise UseError(problem)
    with (
        Worker() as worker,
        opened(folder, program="secondpass add", worker=worker, listener=listener) as session,
    ):
        added = _add(session, asked, worker)
        return _with_change(open_session(session.folder), added, worker)


def _with_change(session: Session, added: Added, worker: Worker) -> Added:
    """Tell what a new revision changed, where the one before it was checked."""
    if added.part is None or added.original is not None or (added.revision or 1) < 2:
        return added
    before = session.part(added.part)[1].revisions[-2]
    if remembered(session, before) is None:
        return added
    return replace(added, change=check_part(session, added.part, worker).change)


def _add(session: Session, asked: Addition, worker: Worker) -> Added:
    if asked.backing is not None:
        return add_backing(session, asked.backing, song=asked.song, worker=worker)
    if asked.original is not None and asked.part is not None:
        return add_original(
            session,
            asked.original,
            channel=asked.channel,
            part=asked.part,
            name=asked.name,
            worker=worker,
        )
    if asked.di is not None:
        return _add_di(session, asked, asked.di, worker)
    if asked.tempo is not None:
        return add_tempo(session, asked.tempo, song=asked.song, metre=asked.metre)
    raise UseError(
        "there is nothing to add; name a file with --di, --original, --backing or --tempo"
    )


def _add_di(session: Session, asked: Addition, di: Path, worker: Worker) -> Added:
    song: str | Song | None = asked.song
    tempo = None
    if asked.new_song is not None:
        song = Song(name=asked.new_song, bpm=asked.bpm, metre=asked.metre)
        refuse_metre(song, asked.metre)
        tempo = brought_tempo(asked.tempo, metre=asked.metre) if asked.tempo else None
    return add_di(
        session,
        di,
        channel=asked.channel,
        part=asked.part,
        song=song,
        tempo=tempo,
        worker=worker,
    )


def delay_of(wiring_path: Path, listener: Listener) -> Delay:
    """Measure the round trip of a wiring; see `audio.jobs.delays.measure_delay`."""
    wiring = read_wiring(wiring_path)
    with _deck(wiring, listener, where=wiring_path) as deck:
        listener.heading(f"test click through {wiring.name}")
        return measure_delay(deck)


def one_pass(
    folder: Path,
    *,
    part: str,
    chain: str,
    wiring_path: Path | None,
    listener: Listener,
    section: Section | None = None,
    as_it_is: bool = False,
) -> Passed:
    """Run one pass; see `audio.jobs.passes.run_pass`, whose errors it has as well.

    Parameters
    ----------
    folder
        The session's folder.
    part
        Its name.
    chain
        Name of what is plugged in.
    wiring_path
        Another wiring than the session's, or None.
    listener
        Hears the steps; asked whether to stop.
    section
        The stretch to be played; the whole DI where left out.
    as_it_is
        A DI that was checked and is not ready is sent all the same.

    Returns
    -------
    Passed
        Whatever the verdict; ``recovered`` where the engine died and left recordings.

    Raises
    ------
    DeviceError
        If the engine died and nothing was recorded.
    """
    with (
        Worker() as worker,
        opened(folder, program="secondpass pass", worker=worker, listener=listener) as session,
    ):
        if as_it_is:
            accept_open(session, part)
        asked_for(session, part, chain)
        wiring = read_wiring(wiring_path) if wiring_path else session.wiring()
        where = wiring_path or session.folder
        try:
            with _deck(wiring, listener, where=where) as deck, Awake().held("pass"):
                return run_pass(
                    deck, session, part_name=part, chain=chain, known=Known(), section=section
                )
        except DeviceError as error:
            left = [one.variant for one in mend(session, worker) if one.variant is not None]
            if not left:
                raise
            return Passed(variant=left[-1], fault=str(error), interrupted=False)


def _deck(wiring: Wiring, listener: Listener, *, where: Path) -> Deck:
    """Open a deck; what does not fit the device is said with the file that asks for it."""
    try:
        return Deck(wiring, listener)
    except UseError as error:
        raise UseError(f"{where}: {error}") from error
