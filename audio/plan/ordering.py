"""The order in which chains are plugged in that costs least: an open path from what is plugged in now.

Up to `MOST_EXACT` chains by dynamic programming over subsets (Held and Karp 1962; Bellman 1962), which no
order beats; above it by moving runs of up to three chains and turning stretches round until nothing gets
cheaper, from several starts; the same costs give the same order every time. How long that goes on is
counted in places looked at, not by a clock: hundreds of chains take no longer than thirty.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence

import msgspec

MOST_EXACT = 13
"""Chains up to which the exact order is looked for: a quarter of a second or so, in Python."""

KICKS = 200
"""How often the heuristic above it exchanges two stretches of the best order and goes down again."""

LONGEST_RUN = 3
"""Chains that are moved together."""

MOST_LOOKS = 4_000_000
"""Places the heuristic looks at before it takes the best it has: a third of a second or so, in Python; with
up to thirty-five chains or so it is done before."""

LEAST_SAVING = 1e-9
"""Points under which nothing is saved: sums of the same numbers differ by less."""


class Ordered(msgspec.Struct, frozen=True, kw_only=True):
    """An order of chains."""

    order: tuple[int, ...]
    """Indices in the order in which they are plugged in."""
    cost: float
    exact: bool
    """No other order costs less."""


def ordered(first: Sequence[float], between: Sequence[Sequence[float]]) -> Ordered:
    """Return the order that costs least, or one that costs little more.

    Parameters
    ----------
    first
        (n,) · cost of getting to each from what is plugged in now, points, 0 or more.
    between
        (n, n) · cost of getting from each to each other; need not be the same both ways.

    Returns
    -------
    Ordered
        Of equal orders the one nearest to that given.
    """
    count = len(first)
    if count <= 1:
        return Ordered(order=tuple(range(count)), cost=sum(first), exact=True)
    if count <= MOST_EXACT:
        order = _exact(first, between)
        return Ordered(order=order, cost=path_cost(order, first, between), exact=True)
    order = _improved(first, between)
    return Ordered(order=order, cost=path_cost(order, first, between), exact=False)


def path_cost(
    order: Sequence[int], first: Sequence[float], between: Sequence[Sequence[float]]
) -> float:
    """Return what an order costs, points."""
    if not order:
        return 0.0
    steps = itertools.pairwise(order)
    return first[order[0]] + sum(between[a][b] for a, b in steps)


def _exact(first: Sequence[float], between: Sequence[Sequence[float]]) -> tuple[int, ...]:
    """Return the best order: for each set of chains done and the last of them, what the rest costs."""
    count = len(first)
    full = (1 << count) - 1
    rest = [[0.0] * count for _ in range(full + 1)]
    then = [[-1] * count for _ in range(full + 1)]
    for done in range(full - 1, 0, -1):
        open_ones = [one for one in range(count) if not done >> one & 1]
        for last in range(count):
            if not done >> last & 1:
                continue
            away = between[last]
            best, at = float("inf"), -1
            for one in open_ones:
                points = away[one] + rest[done | 1 << one][one]
                if points < best:
                    best, at = points, one
            rest[done][last], then[done][last] = best, at
    at = min(range(count), key=lambda one: first[one] + rest[1 << one][one])
    order, done = [at], 1 << at
    while done != full:
        at = then[done][at]
        order.append(at)
        done |= 1 << at
    return tuple(order)


class _Path:
    """An order while it is made cheaper: nodes 0 to n − 1 are chains, n is the start, n + 1 the end."""

    def __init__(self, first: Sequence[float], between: Sequence[Sequence[float]]) -> None:
        count = len(first)
        self.count = count
        self.looks = 0
        self.costs = [[*row, 0.0, 0.0] for row in between]
        self.costs.append([*first, 0.0, 0.0])

    @property
    def is_over(self) -> bool:
        """Whether it was looked for long enough."""
        return self.looks >= MOST_LOOKS

    def descended(self, order: Sequence[int]) -> tuple[list[int], float]:
        """Return an order that no move of a run and no turn of a stretch makes cheaper, and its cost.

        Once the search is over, the order as far as it got.
        """
        path = [self.count, *order, self.count + 1]
        while (move := self._better(path)) is not None:
            path = move
        return path[1:-1], self.length(path)

    def length(self, path: Sequence[int]) -> float:
        """Return what a path costs."""
        costs = self.costs
        return sum(costs[a][b] for a, b in itertools.pairwise(path))

    def _better(self, path: list[int]) -> list[int] | None:
        return None if self.is_over else self._moved(path) or self._turned(path)

    def _moved(self, path: list[int]) -> list[int] | None:
        """Return the path with the run moved that saves most, for the first run that saves anything."""
        costs, end = self.costs, len(path) - 1
        steps = [costs[a][b] for a, b in itertools.pairwise(path)]
        for length in range(1, LONGEST_RUN + 1):
            for i in range(1, end - length + 1):
                head, tail = path[i], path[i + length - 1]
                ahead, behind = path[i - 1], path[i + length]
                saved = steps[i - 1] + steps[i + length - 1] - costs[ahead][behind]
                if saved <= LEAST_SAVING:
                    continue
                self.looks += end
                from_tail = costs[tail]
                best, at = saved - LEAST_SAVING, -1
                for k in range(end):
                    if i - 1 <= k < i + length:
                        continue
                    points = costs[path[k]][head] + from_tail[path[k + 1]] - steps[k]
                    if points < best:
                        best, at = points, k
                if at >= 0:
                    run, rest = path[i : i + length], path[:i] + path[i + length :]
                    to = at + 1 if at < i else at + 1 - length
                    return [*rest[:to], *run, *rest[to:]]
        return None

    def _turned(self, path: list[int]) -> list[int] | None:
        """Return the path with a stretch turned round, the first that saves anything."""
        costs, end = self.costs, len(path) - 1
        for i in range(1, end - 1):
            self.looks += end - i
            ahead, there, back = costs[path[i - 1]], 0.0, 0.0
            entry = ahead[path[i]]
            for j in range(i + 1, end):
                there += costs[path[j - 1]][path[j]]
                back += costs[path[j]][path[j - 1]]
                now = entry + there + costs[path[j]][path[j + 1]]
                if ahead[path[j]] + back + costs[path[i]][path[j + 1]] < now - LEAST_SAVING:
                    return [*path[:i], *reversed(path[i : j + 1]), *path[j + 1 :]]
        return None


def _improved(first: Sequence[float], between: Sequence[Sequence[float]]) -> tuple[int, ...]:
    """Return the best of many descents, most of them from the best so far with stretches exchanged."""
    dice = random.Random(1)  # noqa: S311 - the same order every time, nothing secret
    count, paths = len(first), _Path(first, between)
    starts = (_nearest(first, between), list(range(count)))
    best, points = min((paths.descended(one) for one in starts), key=lambda found: found[1])
    for _ in range(KICKS):
        if paths.is_over:
            break
        a, b, c = sorted(dice.sample(range(count + 1), 3))
        kicked, cost = paths.descended([*best[:a], *best[b:c], *best[a:b], *best[c:]])
        if cost < points - LEAST_SAVING:
            best, points = kicked, cost
    return tuple(best)


def _nearest(first: Sequence[float], between: Sequence[Sequence[float]]) -> list[int]:
    """Return the order that always goes to the chain that is cheapest to get to."""
    left = set(range(len(first)))
    order: list[int] = []
    while left:
        away = between[order[-1]] if order else first
        order.append(min(left, key=lambda one: (away[one], one)))
        left.discard(order[-1])
    return order
