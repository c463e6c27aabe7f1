"""Figures of the sheet in words; a dash where nothing is known."""

from __future__ import annotations

from datetime import datetime

from audio.vocab.units import SILENCE_DBFS, signed

UNKNOWN = "–"


def db(value: float | None, *, digits: int = 1) -> str:
    """Return a level or a difference without its unit, which stands over the column."""
    if value is None:
        return UNKNOWN
    return "silent" if value <= SILENCE_DBFS else signed(value, digits=digits)


def day(iso: str) -> str:
    """Return a time as it is written on paper: ``28 November 2026, 12:07``; as it is, where it is none."""
    try:
        at = datetime.fromisoformat(iso)
    except ValueError:
        return iso
    return f"{at.day} {_MONTHS[at.month - 1]} {at.year}, {at:%H:%M}"


_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
