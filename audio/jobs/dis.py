"""The DI of a part, read through before anything of it is sent."""

from __future__ import annotations

from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Part, Revision
from audio.vocab.wiring import Wiring
from audio.work.client import Worker


def read_di(worker: Worker, session: Session, part: Part, wiring: Wiring) -> AudioFacts:
    """Return what the newest revision of a part is.

    Parameters
    ----------
    worker
        Reads it.
    session
        Where it lies.
    part
        The part.
    wiring
        What it is sent through.

    Returns
    -------
    AudioFacts
        Of the file and the revision's channel.

    Raises
    ------
    UseError
        If it is not the file that was added any more, or not at the wiring's rate.
    """
    revision = part.revisions[-1]
    facts = worker.inspect(session.path(revision.file), channel=revision.channel - 1)
    refuse_changed(session, revision, facts)
    if facts.sample_rate != wiring.sample_rate:
        raise UseError(
            f"{revision.file} is recorded at {facts.sample_rate} Hz and the wiring runs at"
            f" {wiring.sample_rate} Hz; set sample_rate in the wiring, or export the DI at that rate"
        )
    return facts


def refuse_changed(session: Session, revision: Revision, facts: AudioFacts) -> None:
    """Raise `UseError` where a file is not the one that was added as this revision any more."""
    if facts.file_sha256 != revision.file_sha256:
        raise UseError(
            f"{revision.file} is not the file that was added any more; add the changed file as a new"
            f" revision: secondpass add {session.folder} --di FILE"
        )
