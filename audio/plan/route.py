"""From chain to chain over an evening: what has to be touched at each step, and the order that costs least.

What is set at a step is carried along: an amp or a microphone that a chain does not mention is as the
chains before it left it. So what a step costs depends on all before it. The order is looked for with the
least each step can cost (what is not mentioned stands as it is wanted next); where the whole then costs no
more than that, no order costs less.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import msgspec
from msgspec.structs import replace

from audio.plan.ordering import ordered, path_cost
from audio.plan.replug import changes, cost, priced, stands
from audio.vocab.chain import AmpAsSet, Chain, Change
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import Costs

FURTHEST_BACK = 40
"""Chains ago that still tell how something stands that none mentioned since."""


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """From what is plugged in to a chain."""

    after: Chain
    """What is plugged in and set then."""
    touch: tuple[Change, ...] = ()
    cost: float = 0.0
    known: bool = True
    """A file tells how the chain is set, or it has no pedal."""


def step(before: Chain | None, name: str, chains: Mapping[str, Chain], costs: Costs) -> Step:
    """Return what has to be done to plug a chain in.

    Parameters
    ----------
    before
        What is plugged in and set; None where nothing is known.
    name
        Of the chain that is wanted.
    chains
        Those that have a file.
    costs
        Of a knob, a plug, a pedal, an amp.

    Returns
    -------
    Step
        Of a chain without a file nobody can tell what to touch; it costs as much as one pedal put in.
    """
    known = _chain(name, chains, before)
    if before is not None and before.name == name:
        return Step(after=before, known=known is not None)
    if known is None:
        amps = tuple(AmpAsSet(name=amp.name) for amp in before.amps) if before else ()
        return Step(after=Chain(name=name, amps=amps), cost=_riddle(costs), known=False)
    touch = changes(before, known)
    points = priced(touch, before, known, costs)
    return Step(after=stands(before, known), touch=touch, cost=points)


def plugged_in(names: Sequence[str], chains: Mapping[str, Chain]) -> Chain | None:
    """Return what is plugged in and set after some chains, as far as they tell.

    Parameters
    ----------
    names
        In the order in which they were played.
    chains
        Those that have a file.

    Returns
    -------
    Chain or None
        Under the name of the last; None after none.
    """
    there: Chain | None = None
    for name in _runs(names)[-FURTHEST_BACK:]:
        there = step(there, name, chains, Costs()).after
    return there


def between(
    names: Sequence[str], chains: Mapping[str, Chain], costs: Costs
) -> tuple[tuple[float, ...], ...]:
    """Return the least that it can cost to get from each chain to each other, points.

    Parameters
    ----------
    names
        Of n chains.
    chains
        Those that have a file.
    costs
        Of a knob, a plug, a pedal, an amp.

    Returns
    -------
    tuple of tuple of float
        (n, n) · from the row's to the column's.
    """
    known = [_chain(name, chains, None) for name in names]
    return tuple(tuple(_least(one, other, costs) for other in known) for one in known)


def best_order(
    names: tuple[str, ...],
    chains: Mapping[str, Chain],
    plugged: Chain | None,
    costs: Costs,
    *,
    steps: Sequence[Sequence[float]] | None = None,
) -> tuple[tuple[str, ...], float, bool]:
    """Return chains in the order that costs least; the bare path first, as all others are told by it.

    Parameters
    ----------
    names
        Of the chains, each once.
    chains
        Those that have a file.
    plugged
        What is plugged in now.
    costs
        Of a knob, a plug, a pedal, an amp.
    steps
        What `between` says of the names, where that is known already.

    Returns
    -------
    tuple
        Names in order, the least they can cost, points, and whether no order can cost less than that.
    """
    start, points, head = plugged, 0.0, [at for at, one in enumerate(names) if one == BARE_PATH]
    for _ in head:
        there = step(plugged, BARE_PATH, chains, costs)
        start, points = there.after, there.cost
    rest = [at for at, one in enumerate(names) if one != BARE_PATH]
    table = steps if steps is not None else between(names, chains, costs)
    first = [step(start, names[at], chains, costs).cost for at in rest]
    inner = [[table[a][b] for b in rest] for a in rest]
    found = ordered(first, inner)
    order = [*head, *(rest[at] for at in found.order)]
    total = points + path_cost(found.order, first, inner)
    return tuple(names[at] for at in order), total, found.exact


def _chain(name: str, chains: Mapping[str, Chain], before: Chain | None) -> Chain | None:
    """Return a chain; the bare path needs no file: no pedal, in no loop either."""
    if name == BARE_PATH and name not in chains:
        amps = before.amps if before is not None else ()
        return Chain(name=name, amps=tuple(replace(amp, loop=()) for amp in amps))
    return chains.get(name)


def _least(one: Chain | None, other: Chain | None, costs: Costs) -> float:
    if other is None:
        return _riddle(costs)
    if one is None:
        return cost(None, other, costs)
    return cost(stands(other, one), other, costs)


def _riddle(costs: Costs) -> float:
    return costs.pedal + 2 * costs.plug


def _runs(names: Iterable[str]) -> list[str]:
    """Return names without those that are the same as the one before."""
    found: list[str] = []
    for name in names:
        if found[-1:] != [name]:
            found.append(name)
    return found
