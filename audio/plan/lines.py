"""The plan's lines as they stand: which variant answers which, in what order they come, what to touch.

A line is answered by a variant of its part, chain and section that was neither discarded nor stopped by
hand; one that is to be done again, or was stopped, is shown where there is none, but leaves the line to do;
one that was discarded is not even shown. The first time a line is wanted is answered by the first such
variant, the second time by the second. Lines through one chain stand together, their parts in the order
written. What has to be touched stands beside a line as it will be: after what is plugged in now for the
first that is still to do, after the line to do before it for each other; what is done, skipped or cannot be
played is passed over, and nothing has to be touched for it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Protocol

import msgspec

from audio.plan.route import step
from audio.vocab.chain import Chain
from audio.vocab.findings import Verdict
from audio.vocab.names import twin_key
from audio.vocab.plan import Costs, LineState, PlanLine, PlanNow, Wanted

SAME = 1e-6
"""Points under which two costs are the same: sums of the same numbers differ by less."""


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """A variant, as far as it answers a line."""

    part: str
    number: int
    chain: str
    """As it was corrected, where it was."""
    section: str
    """Empty for the whole part."""
    verdict: Verdict
    counts: bool
    """Neither discarded nor stopped by hand."""
    discarded: bool = False


class Ordering(Protocol):
    """Finds the order of some chains, from what is plugged in; may remember it."""

    def __call__(self, names: tuple[str, ...], /) -> tuple[tuple[str, ...], float, bool]:
        """Return the names in order, the least it can cost, and whether no order can cost less."""


def plan_lines(
    wanted: Sequence[Wanted],
    *,
    parts: Mapping[str, str],
    chains: Mapping[str, Chain],
    answers: Sequence[Answer],
    order: Sequence[str],
    skipped: frozenset[str],
    again: Mapping[str, int],
    took_s: Mapping[tuple[str, int], float],
    plugged: Chain | None,
    costs: Costs,
    ordering: Ordering,
    bars_unknown: Callable[[Wanted], str] = lambda _: "",
) -> PlanNow:
    """Return the plan as it stands.

    Parameters
    ----------
    wanted
        What is wanted, in the order written.
    parts
        Song of each part there is.
    chains
        Those that have a file, by name; of any other nobody knows how it is set.
    answers
        All variants, in the order in which they were made.
    order
        Keys in the order made by hand; empty where there is none.
    skipped
        Keys that are left out.
    again
        How often a line is wanted once more.
    took_s
        How long passes took, by part and number.
    plugged
        What is plugged in now; None where that is not known.
    costs
        Of a knob, a plug, a pedal, an amp.
    ordering
        Finds the order of chains.
    bars_unknown
        Says why nobody knows where a line's section lies, in one sentence; empty where it is known.

    Returns
    -------
    PlanNow
        Lines in the order in which they are offered.
    """
    states = [
        _line(one, parts, skipped, bars_unknown, need=need, mine=mine, took_s=took_s, tried=tried)
        for one, need, mine, tried in _answered(wanted, answers, again)
    ]
    todo = [one for one in states if one.state == "to do"]
    written = tuple(dict.fromkeys(one.wanted.chain for one in todo))
    best, least, exact = ordering(written)
    lines = _by_hand(states, order) if order else _grouped(states, best)
    lines = _touched(lines, chains, plugged, costs)
    points = sum(one.cost for one in lines)
    return PlanNow(
        lines=tuple(lines),
        cost=points,
        written_cost=_cost(todo, chains, plugged, costs),
        exact=exact and not order and points < least + SAME,
        by_hand=bool(order),
    )


# ---------------------------------------------------------------- which variant answers which line


def _answered(
    wanted: Sequence[Wanted], answers: Sequence[Answer], again: Mapping[str, int]
) -> Iterator[tuple[Wanted, int, list[Answer], Answer | None]]:
    """Yield each line, how many answers it needs, those it has, and a last try that answers none."""
    made: dict[tuple[str, str, str], list[Answer]] = {}
    for answer in answers:
        about = (answer.part, twin_key(answer.chain), answer.section)
        if not answer.discarded:
            made.setdefault(about, []).append(answer)
    given: dict[tuple[str, str, str], int] = {}
    for one in wanted:
        about = (one.part, twin_key(one.chain), str(one.section or ""))
        tries = made.get(about, [])
        done = [answer for answer in tries if answer.counts and answer.verdict != "redo"]
        first, need = given.get(about, 0), 1 + again.get(one.key, 0)
        given[about] = first + need
        last = tries[-1] if tries and tries[-1] not in done else None
        yield one, need, done[first : first + need], last


def _line(
    one: Wanted,
    parts: Mapping[str, str],
    skipped: frozenset[str],
    bars_unknown: Callable[[Wanted], str],
    *,
    need: int,
    mine: list[Answer],
    tried: Answer | None,
    took_s: Mapping[tuple[str, int], float],
) -> PlanLine:
    state: LineState = "skipped" if one.key in skipped else "to do"
    why = ""
    if len(mine) >= need:
        state = "done"
    elif one.part not in parts:
        why = f"there is no part {one.part!r} any more; take the line out of plan.yaml"
    elif state == "to do":
        why = bars_unknown(one)
    if why:
        state = "cannot"
    shown = mine[-1] if mine else tried
    return PlanLine(
        wanted=one,
        song=parts.get(one.part, ""),
        state=state,
        why=why,
        number=shown.number if shown else None,
        verdict=shown.verdict if shown else None,
        took_s=took_s.get((one.part, shown.number)) if shown else None,
    )


# ---------------------------------------------------------------- order, and what to touch


def _grouped(lines: list[PlanLine], order: tuple[str, ...]) -> list[PlanLine]:
    """Return lines by chain: those that are finished with first, then in the order that replugs least."""
    at = {name: place for place, name in enumerate(order)}
    return sorted(lines, key=lambda line: at.get(line.wanted.chain, -1))


def _by_hand(lines: list[PlanLine], order: Sequence[str]) -> list[PlanLine]:
    """Return lines as somebody put them; those that came later behind them."""
    at = {key: place for place, key in enumerate(order)}
    return sorted(lines, key=lambda line: at.get(line.wanted.key, len(at)))


def _touched(
    lines: list[PlanLine], chains: Mapping[str, Chain], plugged: Chain | None, costs: Costs
) -> list[PlanLine]:
    before, there = plugged, []
    for line in lines:
        if line.state != "to do":
            there.append(line)
            continue
        now = step(before, line.wanted.chain, chains, costs)
        there.append(msgspec.structs.replace(line, touch=now.touch, cost=now.cost, known=now.known))
        before = now.after
    return there


def _cost(
    lines: Sequence[PlanLine], chains: Mapping[str, Chain], plugged: Chain | None, costs: Costs
) -> float:
    return sum(one.cost for one in _touched(list(lines), chains, plugged, costs))
