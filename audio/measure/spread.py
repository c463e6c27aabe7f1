"""Some of many, evenly."""

from __future__ import annotations

import numpy as np


def spread(count: int, most: int) -> list[int]:
    """Return the numbers, from 0, of at most so many of a count of things, first and last among them."""
    return [int(i) for i in np.unique(np.linspace(0, count - 1, min(most, count)).round())]
