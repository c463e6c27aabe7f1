"""How long a level may be heard: NIOSH 98-126, Criteria for a Recommended Standard, 1998."""

from __future__ import annotations

LIMIT_DBA = 85.0
"""Recommended exposure limit over `LIMIT_HOURS`."""

LIMIT_HOURS = 8.0
EXCHANGE_DB = 3.0
"""So many decibels more, half the time."""

_DAY_HOURS = 24.0


def permissible_hours(dba: float) -> float:
    """Return for how many hours a day a level may be heard at most, by the formula of its table 1-1."""
    return LIMIT_HOURS / float(2.0 ** ((dba - LIMIT_DBA) / EXCHANGE_DB))


def permissible_words(dba: float) -> str:
    """Return the same in words, such as ``at most 15 minutes of it a day``; rounded down, never up."""
    hours = permissible_hours(dba)
    seconds = int(hours * 3600.0)
    if hours >= _DAY_HOURS:
        return "as long as you like"
    if seconds < 1:
        return "not without ear protection, not for a second"
    if seconds < 60:
        return f"at most {_counted(seconds, 'second')} of it a day"
    if seconds < 3600:
        return f"at most {_counted(seconds // 60, 'minute')} of it a day"
    return f"at most {int(hours * 10.0) / 10.0:.1f} hours of it a day"


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
