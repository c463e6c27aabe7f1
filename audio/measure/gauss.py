"""Two numbers of the Gaussian distribution (standard tables; checked against scipy in the tests)."""

from __future__ import annotations

from typing import Final

MEDIAN: Final = 0.6745
"""Median of the absolute value, over the standard deviation."""

NINETY_FIVE: Final = 1.960
"""Standard deviations on either side of the mean that hold 95 %."""
