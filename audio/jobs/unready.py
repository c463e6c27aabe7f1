"""DIs that were checked and are not ready: refused once, sent after somebody has said so."""

from __future__ import annotations

from audio.session import readiness
from audio.session.opened import Session
from audio.verdict.readiness import findings_of
from audio.vocab.checked import still_open
from audio.vocab.errors import UseError
from audio.vocab.readiness import DiFinding


def open_worst(session: Session, name: str) -> tuple[DiFinding, ...]:
    """Return what will spoil a pass of a part's newest DI, as far as it was checked, and nobody accepted.

    Parameters
    ----------
    session
        Its session.
    name
        The part's.

    Returns
    -------
    tuple of DiFinding
        None where the DI was not checked yet.
    """
    part = session.part(name)[1]
    measures = readiness.remembered(session, part.revisions[-1])
    if measures is None:
        return ()
    worst = still_open(findings_of(measures), frozenset())
    if not worst:
        return ()
    accepted = readiness.accepted(session).get((part.name, len(part.revisions)), frozenset())
    return still_open(worst, accepted)


def refuse_unready(session: Session, name: str) -> None:
    """Raise `UseError` where a part's DI was found not ready, and nobody has said to send it as it is."""
    found = open_worst(session, name)
    if not found:
        return
    first = found[0]
    where = "" if first.at_s is None else f" at {first.at_s:.3f} s"
    more = f", and {len(found) - 1} more" if len(found) > 1 else ""
    raise UseError(
        f"the DI of {name} is not ready: {first.code}{where}{more} will be heard in every pass; mend it in"
        f" the editor and add it again (secondpass check {session.folder} --part {name} tells all), or send"
        " it as it is with --as-it-is"
    )


def accept_open(session: Session, name: str) -> None:
    """Note in the journal that a part's newest DI is sent as it is; nothing where nothing is open.

    `UseError` if there is no such part, or the disk refuses.
    """
    found = open_worst(session, name)
    if found:
        readiness.accept(session, session.part(name)[1], (one.code for one in found))
