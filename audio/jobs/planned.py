"""The plan by itself, as the command line shows and extends it; the chains likewise."""

from __future__ import annotations

from pathlib import Path

import msgspec

from audio.jobs.planning import covered
from audio.jobs.snapshots import planned
from audio.jobs.unready import open_worst
from audio.plan.coverage import Coverage
from audio.session import plans
from audio.session.catalogue import Catalogue
from audio.session.chains import chains
from audio.session.folder import open_session
from audio.session.lock import lock_session
from audio.vocab.chain import Chains
from audio.vocab.errors import UseError
from audio.vocab.plan import PlanNow
from audio.vocab.section import Section


class PlanSeen(msgspec.Struct, frozen=True, kw_only=True):
    """The plan and what is played of it."""

    session: str
    """Its folder, absolute."""
    plan: PlanNow
    coverage: Coverage
    unready: dict[str, int] = {}
    """Parts whose DI was found not ready, with how many findings nobody has accepted."""


def see_plan(folder: Path) -> PlanSeen:
    """Return the plan as it stands; `UseError` if it is no session or its plan cannot be read.

    Only reads: the session may be open in another program.
    """
    session = open_session(folder.absolute())
    now = planned(session, Catalogue())
    if now.plan.problem:
        raise UseError(now.plan.problem)
    table = covered(session, now.plan, variants=now.seen.variants, opinions=now.opinions)
    parts = dict.fromkeys(line.wanted.part for line in now.plan.lines if line.state == "to do")
    open_ones = {part: len(open_worst(session, part)) for part in parts}
    return PlanSeen(
        session=str(session.folder),
        plan=now.plan,
        coverage=table,
        unready={part: count for part, count in open_ones.items() if count},
    )


def want_passes(
    folder: Path,
    *,
    parts: tuple[str, ...],
    chains: tuple[str, ...],
    section: Section | None,
    program: str,
) -> None:
    """Add passes to the plan, as `plans.want` does; `UseError` also if another program has the session."""
    session = open_session(folder.absolute())
    with lock_session(session.folder, program=program):
        plans.want(session, parts=parts, chains=chains, section=section)


def see_chains(folder: Path) -> Chains:
    """Return the chains there are for a session; `UseError` if it is none."""
    return chains(open_session(folder.absolute()))
