"""The session as it is on disk now, in one value."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from audio.jobs.news import Playing, Snapshot
from audio.jobs.planning import plan_now
from audio.jobs.tempos import tempos_of
from audio.session.catalogue import Catalogue, Found
from audio.session.chains import chains
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.session.passes import Claim, state_of
from audio.session.runs import run_now
from audio.session.setups import setups
from audio.vocab.balance import Balance
from audio.vocab.chain import Chains
from audio.vocab.errors import UseError
from audio.vocab.opinion import Opinion
from audio.vocab.plan import PlanNow, RunNow
from audio.vocab.variant import Summary


class Planned(msgspec.Struct, frozen=True, kw_only=True):
    """The plan as it stands, with what it was made of."""

    seen: Found
    chains: Chains
    opinions: tuple[Opinion, ...]
    opinions_problem: str = ""
    """Why what was said cannot be read; empty where it can."""
    plan: PlanNow

    def without_pedals(self) -> frozenset[str]:
        """Return the names of the chains that are known to have no pedal."""
        return frozenset(one.chain.name for one in self.chains.found if not one.chain.pedals)


def planned(session: Session, catalogue: Catalogue) -> Planned:
    """Return the plan as it stands on disk now; what is wrong in files is said, not raised."""
    seen = catalogue.look(session)
    known, (said, unread) = chains(session), _said(session, catalogue, seen.variants)
    plan = plan_now(session, chains=known, variants=seen.variants, opinions=said)
    return Planned(seen=seen, chains=known, opinions=said, opinions_problem=unread, plan=plan)


def _said(
    session: Session, catalogue: Catalogue, variants: tuple[Summary, ...]
) -> tuple[tuple[Opinion, ...], str]:
    """Return what was said of variants, balances of their own microphones alone, and why it is unread."""
    try:
        said = opinions(session, remembered=catalogue.said)
    except UseError as error:
        return (), str(error)
    balanced = {(one.part, one.number) for one in said if one.keeper or one.balance != Balance()}
    microphones = {
        (one.part, one.number): [file.return_name for file in one.files]
        for one in (variants if balanced else ())
        if (one.part, one.number) in balanced
    }
    return tuple(_held(one, microphones.get((one.part, one.number))) for one in said), ""


def _held(said: Opinion, microphones: list[str] | None) -> Opinion:
    return said if microphones is None else said.held_to(microphones)


def snapshot(
    session: Session,
    catalogue: Catalogue,
    *,
    run: Callable[[Planned], RunNow] | None = None,
) -> Snapshot:
    """Read all there is: songs, parts, wiring, variants; what is wrong is said, not raised.

    `UseError` only if the folder itself cannot be read. What the catalogue knows is not read again.
    Who runs a run says itself how it stands.
    """
    found = planned(session, catalogue)
    wiring, problem = None, ""
    try:
        wiring = session.wiring()
    except UseError as error:
        problem = str(error)
    seen = found.seen
    return Snapshot(
        folder=str(session.folder),
        file=session.file,
        wiring=wiring,
        wiring_problem=problem,
        variants=seen.variants,
        broken=seen.broken,
        playing=tuple(Playing(part=one.part, number=one.number) for one in played(seen.undone)),
        setups=setups(session).found,
        chains=found.chains.found,
        chain_problems=found.chains.problems,
        opinions=found.opinions,
        opinions_problem=found.opinions_problem,
        plan=found.plan,
        run=_run(session, found, run),
        tempos=tempos_of(session),
    )


def _run(session: Session, found: Planned, run: Callable[[Planned], RunNow] | None) -> RunNow:
    """Return how a run stands; none where the journal cannot be read, which is said of the opinions."""
    try:
        return run_now(session, found.plan) if run is None else run(found)
    except UseError:
        return RunNow()


def played(passes: tuple[Claim, ...]) -> tuple[Claim, ...]:
    """Return those passes that engines without a face still play."""
    return tuple(one for one in passes if state_of(one.folder) == "still finishing")
