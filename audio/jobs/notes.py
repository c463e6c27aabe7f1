"""What is said of a variant by the command line, and what is known of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from audio.session import layout, records
from audio.session.folder import open_session
from audio.session.history import history
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.session.opinions import existing, opinion_of, say
from audio.vocab.errors import UseError
from audio.vocab.opinion import Happening, Opinion
from audio.vocab.variant import Summary


class Noted(msgspec.Struct, frozen=True, kw_only=True):
    """A variant, what was said of it, and all that happened to it."""

    part: str
    number: int
    recorded: Summary | None
    """What the pass left; None where that cannot be read."""
    problem: str = ""
    """Why it cannot be read; one sentence, empty where it can."""
    opinion: Opinion
    history: tuple[Happening, ...]
    """Oldest first."""


def note(folder: Path, part: str, number: int, **said: Any) -> Noted:
    """Say something of a variant, or nothing; return what is known of it then.

    Parameters
    ----------
    folder
        The session's folder; locked while something is written.
    part
        The part's name.
    number
        The variant's.
    **said
        As `audio.session.opinions.say` takes it; None for what is not spoken of.

    Returns
    -------
    Noted
        As the journal has it.

    Raises
    ------
    UseError
        If there is no such variant, a value cannot be, another program has the session, or the disk
        refuses.
    """
    session = open_session(folder.absolute())
    spoken = {key: value for key, value in said.items() if value is not None}
    if spoken:
        with lock_session(session.folder, program="secondpass note"):
            say(session, part, number, **spoken)
    return _known(session, existing(session, part, number), number)


def _known(session: Session, part: str, number: int) -> Noted:
    recorded, problem = None, ""
    try:
        recorded = records.read_summary(layout.pass_folder(session.folder, part, number))
    except UseError as error:
        problem = str(error)
    said = opinion_of(session, part, number)
    if recorded is not None:
        said = said.held_to([file.return_name for file in recorded.files])
    return Noted(
        part=part,
        number=number,
        recorded=recorded,
        problem=problem,
        opinion=said,
        history=history(session, part, number),
    )
