"""The session as it is on disk now, in one value."""

from __future__ import annotations

from audio.jobs.news import Playing, Snapshot
from audio.session import records
from audio.session.opened import Session
from audio.session.passes import unfinished
from audio.vocab.errors import UseError


def snapshot(session: Session) -> Snapshot:
    """Read all there is: songs, parts, wiring, variants; what is wrong is said, not raised.

    `UseError` only if the folder itself cannot be read.
    """
    variants = records.variants(session)
    wiring, problem = None, ""
    try:
        wiring = session.wiring()
    except UseError as error:
        problem = str(error)
    return Snapshot(
        folder=str(session.folder),
        file=session.file,
        wiring=wiring,
        wiring_problem=problem,
        variants=variants.found,
        broken=variants.broken,
        playing=playing(session),
    )


def playing(session: Session) -> tuple[Playing, ...]:
    """Return the passes that engines without a face still play."""
    return tuple(
        Playing(part=one.part, number=one.number)
        for one in unfinished(session)
        if one.state == "still finishing"
    )
