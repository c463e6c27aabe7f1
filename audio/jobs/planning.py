"""The plan as it stands, from everything the session holds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import lru_cache

import msgspec

from audio.jobs import sections
from audio.jobs.sections import bars_problem
from audio.jobs.tempos import song_tempo
from audio.plan.coverage import Coverage, coverage
from audio.plan.lines import Answer, plan_lines
from audio.plan.route import best_order, between, plugged_in
from audio.session import plans
from audio.session.opened import Session
from audio.session.readiness import remembered_facts
from audio.vocab.chain import Chain, Chains
from audio.vocab.errors import UseError
from audio.vocab.names import BARE_PATH, twin_key
from audio.vocab.opinion import Opinion
from audio.vocab.plan import Costs, PlanNow, Wanted
from audio.vocab.section import Section
from audio.vocab.session_file import Part, Song
from audio.vocab.variant import Summary

ANY_BAR = Section(from_bar=1, to_bar=1)

LAST = 500
"""Newest variants that are looked at for what is plugged in and set now."""


def plan_now(
    session: Session,
    *,
    chains: Chains,
    variants: tuple[Summary, ...],
    opinions: tuple[Opinion, ...],
) -> PlanNow:
    """Return the plan's lines in the order in which they are offered.

    Parameters
    ----------
    session
        Its ``plan.yaml`` and journal are read.
    chains
        What is known of chains; of one without a file nothing is known but its name.
    variants
        All there are; the newest tells what is plugged in now, unless somebody said otherwise in a run
        since (the bare path is measured with every pedal out); those before it how the rest is set.
    opinions
        A discarded variant answers no line; one whose chain was corrected answers that chain's.

    Returns
    -------
    PlanNow
        What is wrong in the file is said in it, not raised.
    """
    try:
        file, noted = plans.read_plan(session, chains), plans.noted(session)
    except UseError as error:
        return PlanNow(problem=str(error))
    known = {one.chain.name: one.chain for one in chains.found}
    answers = answers_of(variants, opinions)
    newest = max((one.made_at for one in variants), default="")
    plugged = plugged_in(_played(answers, noted, newest, known), known)
    return plan_lines(
        file.wanted,
        parts={part.name: song.name for song in session.file.songs for part in song.parts},
        chains=known,
        answers=answers,
        order=noted.order,
        skipped=noted.skipped,
        again=noted.again,
        took_s=noted.took_s,
        plugged=plugged,
        costs=file.costs,
        bars_unknown=_no_section(session),
        ordering=lambda names: _remembered(
            names, _written(names, known), _one_written(plugged), file.costs
        ),
    )


def _no_section(session: Session) -> Callable[[Wanted], str]:
    """Return what says why a line's section lies nowhere, quickly also for a thousand lines.

    Whether it lies in its DI is known once that was checked.
    """
    untold = {
        part.name: (song, tempo)
        for song in session.file.songs
        if bars_problem(ANY_BAR, song, tempo := song_tempo(session, song))
        for part in song.parts
    }
    there = {part.name: (song, part) for song in session.file.songs for part in song.parts}

    def why(wanted: Wanted) -> str:
        if wanted.section is None or wanted.part not in there:
            return ""
        known = untold.get(wanted.part)
        if known and (problem := bars_problem(wanted.section, *known)):
            return problem
        return _outside(session, *there[wanted.part], wanted.section)

    return why


def _outside(session: Session, song: Song, part: Part, section: Section) -> str:
    """Return where a section does not lie in a part's DI; empty where it does, or nobody knows yet."""
    facts = remembered_facts(session, part.revisions[-1])
    if facts is None:
        return ""
    try:
        sections.covered(
            section,
            song,
            tempo=song_tempo(session, song),
            time_reference=facts.time_reference,
            frames=facts.frames,
            rate=facts.sample_rate,
        )
    except UseError as error:
        return str(error)
    return ""


def _played(
    answers: list[Answer], noted: plans.Noted, newest: str, known: dict[str, Chain]
) -> list[str]:
    """Return the chains that were plugged in, the last of them also where nothing was recorded of it."""
    names = [one.chain for one in answers[-LAST:]]
    if noted.plugged is not None and not _is_before(noted.plugged[0], newest):
        names.append(noted.plugged[1])
    spelled = {twin_key(name): name for name in (BARE_PATH, *known)}
    return [spelled.get(twin_key(name), name) for name in names]


def _is_before(at: str, other: str) -> bool:
    """Return whether a time of the journal lies before another; False where one of them is none."""
    try:
        return datetime.fromisoformat(at) < datetime.fromisoformat(other)
    except (ValueError, TypeError):  # the other one may be without an offset
        return False


def answers_of(variants: tuple[Summary, ...], opinions: tuple[Opinion, ...]) -> list[Answer]:
    """Return variants as far as they answer lines of a plan, in the order in which they were made."""
    said = {(one.part, one.number): one for one in opinions}
    return [_answer(one, said.get((one.part, one.number))) for one in _in_time(variants)]


def covered(
    session: Session,
    plan: PlanNow,
    *,
    variants: tuple[Summary, ...],
    opinions: tuple[Opinion, ...],
) -> Coverage:
    """Return which of the session's parts were played through which chains.

    Parameters
    ----------
    session
        Its parts.
    plan
        What is wanted.
    variants
        All there are.
    opinions
        What was said of them.

    Returns
    -------
    Coverage
        For reading.
    """
    parts = [part.name for song in session.file.songs for part in song.parts]
    return coverage(parts, answers_of(variants, opinions), plan)


def _in_time(variants: tuple[Summary, ...]) -> list[Summary]:
    return sorted(variants, key=lambda one: (one.made_at, one.number))


def _answer(one: Summary, said: Opinion | None) -> Answer:
    gone = said is not None and said.discarded
    return Answer(
        part=one.part,
        number=one.number,
        chain=said.chain if said and said.chain else one.chain.name,
        section=one.covers.text if one.covers else "",
        verdict=one.verdict,
        counts=one.state != "stopped" and not gone,
        discarded=gone,
    )


# Chains hold dictionaries and cannot be keys of a memory; as JSON they can.
def _written(names: tuple[str, ...], known: dict[str, Chain]) -> tuple[bytes, ...]:
    return tuple(_one_written(known.get(name)) for name in names)


def _one_written(chain: Chain | None) -> bytes:
    return msgspec.json.encode(chain)


_CHAIN = msgspec.json.Decoder(Chain | None)


@lru_cache(maxsize=16)
def _remembered(
    names: tuple[str, ...], written: tuple[bytes, ...], plugged: bytes, costs: Costs
) -> tuple[tuple[str, ...], float, bool]:
    """Return the order of chains; finding it takes a moment, and a plan is looked at all the time."""
    steps = _steps(names, written, costs)
    known = _known(names, written)
    return best_order(names, known, _CHAIN.decode(plugged), costs, steps=steps)


@lru_cache(maxsize=8)
def _steps(
    names: tuple[str, ...], written: tuple[bytes, ...], costs: Costs
) -> tuple[tuple[float, ...], ...]:
    """Return what it costs from each to each: the same after a pass, which plugged in another one."""
    return between(names, _known(names, written), costs)


def _known(names: tuple[str, ...], written: tuple[bytes, ...]) -> dict[str, Chain]:
    chains = [_CHAIN.decode(one) for one in written]
    return {name: chain for name, chain in zip(names, chains, strict=True) if chain is not None}
