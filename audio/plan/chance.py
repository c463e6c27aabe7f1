"""What chance alone would do, exactly: whole numbers and fractions, nothing approximated.

Every figure answers one question: were each answer a fair coin, how often would it come out at least as
far from even as it did?
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import comb
from typing import Literal

Sides = Literal[1, 2]
"""1 where only one way counts (right answers), 2 where either sound may win."""

LIMIT = Fraction(1, 20)
"""What chance does less often than once in 20 is not put down to chance (common practice; Fisher 1925)."""

CLEAR = Fraction(9, 10)
"""A clear case, for proposing a number of answers: nine answers of ten go one way (a choice, no source)."""

FOUND = Fraction(4, 5)
"""So often such a case is to be found (common practice; Cohen 1988, from memory)."""


def binomial_tail(successes: int, trials: int) -> Fraction:
    """Return how often fair coins show that many heads or more.

    Parameters
    ----------
    successes
        Heads; 0 or fewer are always reached, more than `trials` never.
    trials
        How many coins, 0 or more.

    Returns
    -------
    Fraction
        0 to 1, exact.
    """
    heads = max(successes, 0)
    if 2 * heads > trials:  # the shorter of both sums
        return Fraction(sum(_ways(trials, trials - heads)), 1 << trials)
    return 1 - Fraction(sum(_ways(trials, heads - 1)), 1 << trials)


def sign_test(wins: int, losses: int) -> Fraction:
    """Return how often as many fair coins fall at least as unevenly, whichever way; ties are no coins."""
    return min(Fraction(1), 2 * binomial_tail(max(wins, losses), wins + losses))


def holm(values: Sequence[Fraction]) -> tuple[Fraction, ...]:
    """Return each figure with the number of comparisons taken into account, by Holm's step-down.

    Of many comparisons some look good by chance. At most `LIMIT` is kept for the whole family, whatever
    the comparisons have to do with one another (S. Holm, "A Simple Sequentially Rejective Multiple Test
    Procedure", Scandinavian Journal of Statistics 6, 1979, 65-70): the smallest of m figures counts m
    times, the next m - 1 times, and so on; none gets smaller than the one before it.

    Parameters
    ----------
    values
        One a comparison, 0 to 1.

    Returns
    -------
    tuple of Fraction
        In the same order, at most 1.
    """
    adjusted, so_far = list(values), Fraction(0)
    order = sorted(range(len(values)), key=values.__getitem__)
    for step, at in enumerate(order):
        so_far = max(so_far, min(Fraction(1), (len(values) - step) * values[at]))
        adjusted[at] = so_far
    return tuple(adjusted)


def least_answers(*, sides: Sides, comparisons: int = 1) -> int:
    """Return the fewest answers by which anything can be said: were all alike, it could not well be chance.

    Parameters
    ----------
    sides
        1 for right answers, 2 for a preference.
    comparisons
        Made at once; each must hold against all of them.

    Returns
    -------
    int
        Ties not counted.
    """
    answers = 1
    while sides * binomial_tail(answers, answers) * comparisons > LIMIT:
        answers += 1
    return answers


def least_right(answers: int, *, sides: Sides, comparisons: int = 1) -> int | None:
    """Return how many answers of so many must go one way so that it could not well be chance.

    Parameters
    ----------
    answers
        Ties not counted.
    sides
        1 for right answers, 2 for a preference.
    comparisons
        Made at once.

    Returns
    -------
    int or None
        None where not even all of them would do.
    """
    allowed = LIMIT / (sides * comparisons)
    ways, most = 0, 0
    for count in _ways(answers, answers):
        ways += count
        if Fraction(ways, 1 << answers) > allowed:
            break
        most += 1
    return answers - most + 1 if most else None


def proposed_answers(*, sides: Sides, comparisons: int = 1) -> int:
    """Return the fewest answers that find a `CLEAR` case `FOUND` so often.

    Parameters
    ----------
    sides
        1 for right answers, 2 for a preference.
    comparisons
        Made at once.

    Returns
    -------
    int
        Ties not counted.
    """
    answers = least_answers(sides=sides, comparisons=comparisons)
    while _found(answers, least_right(answers, sides=sides, comparisons=comparisons)) < FOUND:
        answers += 1
    return answers


def _found(answers: int, needed: int | None) -> Fraction:
    """Return how often a clear case comes to that many answers one way."""
    if needed is None:
        return Fraction(0)
    right = range(needed, answers + 1)
    each = (comb(answers, k) * CLEAR**k * (1 - CLEAR) ** (answers - k) for k in right)
    return sum(each, start=Fraction(0))


def _ways(trials: int, most: int) -> Iterator[int]:
    """Yield in how many ways coins show 0, 1, ... `most` heads: each from the one before."""
    ways = 1
    for heads in range(most + 1):
        yield ways
        ways = ways * (trials - heads) // (heads + 1)
