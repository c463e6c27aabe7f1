"""Mean, spread and the farthest of a handful of figures, without numpy."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from heapq import nlargest
from typing import TypeVar

WORST = 10
"""How many of the worst are told."""

_One = TypeVar("_One")


def mean(figures: Sequence[float]) -> float | None:
    """Return the arithmetic mean, None of nothing."""
    return math.fsum(figures) / len(figures) if figures else None


def spread(figures: Sequence[float]) -> float | None:
    """Return the sample standard deviation, over n − 1; None of fewer than two figures."""
    middle = mean(figures)
    if middle is None or len(figures) < 2:
        return None
    return math.sqrt(math.fsum((one - middle) ** 2 for one in figures) / (len(figures) - 1))


def farthest(ones: Iterable[_One], *, by: Callable[[_One], float]) -> tuple[_One, ...]:
    """Return up to `WORST` of them, the largest amount first, those alike in their order."""
    return tuple(nlargest(WORST, ones, key=lambda one: abs(by(one))))
