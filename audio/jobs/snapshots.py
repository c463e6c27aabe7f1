"""The session as it is on disk now, in one value."""

from __future__ import annotations

from audio.jobs.news import Playing, Snapshot
from audio.jobs.planning import plan_now
from audio.session.catalogue import Catalogue
from audio.session.chains import chains
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.session.passes import Claim, state_of
from audio.session.runs import run_now
from audio.session.setups import setups
from audio.vocab.errors import UseError
from audio.vocab.opinion import Opinion


def snapshot(session: Session, catalogue: Catalogue) -> Snapshot:
    """Read all there is: songs, parts, wiring, variants; what is wrong is said, not raised.

    `UseError` only if the folder itself cannot be read. What the catalogue knows is not read again.
    """
    found = catalogue.look(session)
    wiring, problem = None, ""
    try:
        wiring = session.wiring()
    except UseError as error:
        problem = str(error)
    known = chains(session)
    said: tuple[Opinion, ...] = ()
    unread = ""
    try:
        said = opinions(session, remembered=catalogue.said)
    except UseError as error:
        unread = str(error)
    plan = plan_now(session, chains=known, variants=found.variants, opinions=said)
    return Snapshot(
        folder=str(session.folder),
        file=session.file,
        wiring=wiring,
        wiring_problem=problem,
        variants=found.variants,
        broken=found.broken,
        playing=tuple(Playing(part=one.part, number=one.number) for one in played(found.undone)),
        setups=setups(session).found,
        chains=known.found,
        chain_problems=known.problems,
        opinions=said,
        opinions_problem=unread,
        plan=plan,
        run=run_now(session, plan),
    )


def played(passes: tuple[Claim, ...]) -> tuple[Claim, ...]:
    """Return those passes that engines without a face still play."""
    return tuple(one for one in passes if state_of(one.folder) == "still finishing")
