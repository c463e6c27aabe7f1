"""The set-up as the command line runs it: one stream for as many steps as are wanted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from audio.jobs.deck import Deck
from audio.jobs.sessions import opened
from audio.jobs.setting.steps import run_step
from audio.jobs.talk import Listener
from audio.plan.setup import StepStatus, statuses
from audio.session.folder import open_session
from audio.session.opened import Session
from audio.session.setups import setups
from audio.vocab.errors import UseError
from audio.vocab.session_file import Part
from audio.vocab.setup import Asked, SetupRecord
from audio.work.client import Worker

RunStep = Callable[[Asked], SetupRecord]
"""Measures one step and keeps its record; see `audio.jobs.setting.steps.run_step`."""


def as_it_stands(folder: Path, part: str | None) -> tuple[StepStatus, ...]:
    """Return every step as it stands, without any device.

    Parameters
    ----------
    folder
        The session's folder.
    part
        Whose send level is told; the session's first part where it is None.

    Returns
    -------
    tuple of StepStatus
        In the order in which they are walked.
    """
    return standing(open_session(folder.absolute()), part)


def standing(session: Session, part: str | None) -> tuple[StepStatus, ...]:
    """Return the same of a session that is open."""
    wiring = session.wiring() if session.file.wiring is not None else None
    name = part or first_part(session)
    return statuses(
        setups(session).found,
        wiring=wiring,
        part=session.part(name)[1] if name is not None else None,
        now=datetime.now().astimezone(),
    )


def part_of(folder: Path, name: str | None) -> Part | None:
    """Return a part of a session that is not open here: the one of that name, or the first.

    `UseError` if it is no session, or has no such part.
    """
    session = open_session(folder.absolute())
    wanted = name or first_part(session)
    return session.part(wanted)[1] if wanted is not None else None


def first_part(session: Session) -> str | None:
    """Return the name of the session's first part, None where it has none."""
    return next((part.name for song in session.file.songs for part in song.parts), None)


@contextmanager
def setting_up(
    folder: Path, *, chain: str, part: str | None, listener: Listener
) -> Iterator[tuple[Session, RunStep]]:
    """Hold a session and the stream of its wiring for steps to come.

    Parameters
    ----------
    folder
        The session's folder.
    chain
        What is plugged in; empty where nothing is said of it.
    part
        The part the steps are for, which must be there where it is given.
    listener
        Hears the steps; asked whether to stop.

    Yields
    ------
    tuple of Session and RunStep
        What is set up, and what measures a step of it.

    Raises
    ------
    UseError
        If it is no session, another program holds it, or its wiring does not fit the device.
    DeviceError
        If the device cannot be opened.
    """
    with (
        Worker() as worker,
        opened(folder, program="secondpass set", worker=worker, listener=listener) as session,
    ):
        if part is not None:
            session.part(part)
        try:
            deck = Deck(session.wiring(), listener)
        except UseError as error:
            raise UseError(f"{session.folder}: {error}") from error
        with deck:
            yield (
                session,
                lambda asked: run_step(deck, open_session(session.folder), asked, chain=chain),
            )
