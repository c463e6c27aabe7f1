"""How long a level may be heard: NIOSH 98-126, Criteria for a Recommended Standard, 1998."""

from __future__ import annotations

LIMIT_DBA = 85.0
"""Recommended exposure limit over `LIMIT_HOURS`."""

LIMIT_HOURS = 8.0
EXCHANGE_DB = 3.0
"""So many decibels more, half the time."""


def permissible_hours(dba: float) -> float:
    """Return for how many hours a day a level may be heard at most, by the formula of its table 1-1."""
    return LIMIT_HOURS / float(2.0 ** ((dba - LIMIT_DBA) / EXCHANGE_DB))
