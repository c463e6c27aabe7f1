"""Which hits of two recordings answer each other: one to one, in order, the best as a whole.

Dynamic programming over the two ordered lists, as for the alignment of sequences (Needleman and Wunsch,
1970, from memory). Pairs that cross are never better than the same pairs uncrossed, so nothing is lost.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from statistics import median
from typing import NamedTuple


def best_pairs(
    first: Sequence[float], second: Sequence[float], *, reach: float
) -> list[tuple[int, int]]:
    """Return the pairs of least total cost.

    Parameters
    ----------
    first
        Places in order.
    second
        Likewise, in the same unit.
    reach
        Farthest that two of a pair may lie apart, in the same unit, more than 0.

    Returns
    -------
    list of tuple
        Index into the first and into the second, rising. A pair costs what it lies apart, a place without
        one costs half of `reach`; of equal costs the one with more pairs.
    """
    rows = [_Row(0, 0, [0.0])]
    for at in first:
        rows.append(_next_row(rows[-1], at, second, reach))
    return _traced(rows, first, second, reach)


def paired_around(
    first: Sequence[float], second: Sequence[float], *, offset: float, reach: float
) -> tuple[float, list[tuple[int, int]]]:
    """Return how late the second lies by the median of its pairs, and the pairs within reach of that.

    Parameters
    ----------
    first
        Places in order.
    second
        Likewise, in the same unit.
    offset
        How late the second is thought to lie; the answer where nothing is paired.
    reach
        Farthest that two of a pair may lie apart beyond the offset.

    Returns
    -------
    tuple
        The offset, in the same unit, and index pairs as of `best_pairs`.
    """
    pairs = _shifted(first, second, offset, reach)
    if not pairs:
        return offset, pairs
    offset = median(second[two] - first[one] for one, two in pairs)
    return offset, _shifted(first, second, offset, reach)


def _shifted(
    first: Sequence[float], second: Sequence[float], offset: float, reach: float
) -> list[tuple[int, int]]:
    return best_pairs(first, [at - offset for at in second], reach=reach)


class _Row(NamedTuple):
    """What pairs among the first so many places and the second's before each of a window save at most."""

    low: int
    high: int
    saved: list[float]

    def before(self, end: int) -> float:
        """Return the most that is saved with the second's places before `end`, `end` ≥ `low`."""
        return self.saved[-1] if end >= self.high else self.saved[end - self.low]


def _next_row(last: _Row, at: float, second: Sequence[float], reach: float) -> _Row:
    low = bisect_left(second, at - reach, last.low)
    high = bisect_right(second, at + reach, max(low, last.high))
    best = last.before(low)
    saved = [best]
    if (
        low >= last.high and high <= low + 1
    ):  # the usual case, said shortly: nobody else's partner, or none
        if high > low:
            saved.append(max(best, best + reach - abs(second[low] - at)))
        return _Row(low, high, saved)
    for end in range(low + 1, high + 1):
        paired = last.before(end - 1) + reach - abs(second[end - 1] - at)
        best = max(best, last.before(end), paired)
        saved.append(best)
    return _Row(low, high, saved)


def _traced(
    rows: Sequence[_Row], first: Sequence[float], second: Sequence[float], reach: float
) -> list[tuple[int, int]]:
    pairs = []
    one, end = len(first), len(second)
    while one:
        row, last = rows[one], rows[one - 1]
        end = min(end, row.high)
        if end == row.low:
            one -= 1
            continue
        here, there = row.before(end), abs(second[end - 1] - first[one - 1])
        # The same sum as above: rounded otherwise it would not be equal.
        if there <= reach and here == last.before(end - 1) + reach - there:
            pairs.append((one - 1, end - 1))
            one, end = one - 1, end - 1
        elif here == row.before(end - 1):
            end -= 1
        else:
            one -= 1
    return pairs[::-1]
