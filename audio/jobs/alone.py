"""Jobs that stand alone, as the command line runs them: open what is needed, do one thing, close it."""

from __future__ import annotations

from pathlib import Path

import msgspec

from audio.jobs.deck import Deck
from audio.jobs.delays import Delay, measure_delay
from audio.jobs.passes import Passed, asked_for, run_pass
from audio.jobs.placing import Known
from audio.jobs.recovery import mend
from audio.jobs.sessions import Added, add_di, add_original, new_session, opened
from audio.jobs.talk import Listener
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.wiring import Wiring
from audio.vocab.wiring_file import read_wiring
from audio.work.client import Worker


class Made(msgspec.Struct, frozen=True, kw_only=True):
    """A new session."""

    session: str
    """Its folder, absolute."""
    parts: tuple[Added, ...]


def make_session(
    folder: Path,
    *,
    dis: tuple[Path, ...],
    channel: int,
    wiring_path: Path | None,
    bpm: float | None,
    metre: str | None,
) -> Made:
    """Make a session; see `audio.jobs.sessions.new_session`."""
    with Worker() as worker:
        session, added = new_session(
            folder,
            dis=dis,
            channel=channel,
            wiring_path=wiring_path,
            song=None,
            bpm=bpm,
            metre=metre,
            worker=worker,
        )
    return Made(session=str(session.folder), parts=added)


def add_to_session(
    folder: Path,
    *,
    di: Path | None,
    original: Path | None,
    part: str | None,
    song: str | None,
    name: str | None,
    channel: int,
    listener: Listener,
) -> Added:
    """Add a DI or an original; see `audio.jobs.sessions`.

    Parameters
    ----------
    folder
        The session's folder.
    di
        An edited DI, or None where there is an original.
    original
        A first recording of the amp, or None where there is a DI.
    part
        As `add_di` takes it; needed for an original.
    song
        As `add_di` takes it; None for an original.
    name
        As `add_original` takes it; None for a DI.
    channel
        Channel of the file, from 1.
    listener
        Hears what was mended on opening.

    Returns
    -------
    Added
        What it became.

    Raises
    ------
    UseError
        If an original has no part to belong to, or anything else cannot be.
    """
    with (
        Worker() as worker,
        opened(folder, program="secondpass add", worker=worker, listener=listener) as session,
    ):
        if di is not None:
            if name is not None:
                raise UseError(
                    "--name says which microphone an original is; leave it out with --di"
                )
            return add_di(session, di, channel=channel, part=part, song=song, worker=worker)
        if original is None or part is None:
            raise UseError("an original belongs to a part; name it with --part")
        if song is not None:
            raise UseError("--song belongs to a new DI; leave it out with --original")
        return add_original(session, original, channel=channel, part=part, name=name, worker=worker)


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
        asked_for(session, part, chain)
        wiring = read_wiring(wiring_path) if wiring_path else session.wiring()
        where = wiring_path or session.folder
        try:
            with _deck(wiring, listener, where=where) as deck:
                return run_pass(deck, session, part_name=part, chain=chain, known=Known())
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
