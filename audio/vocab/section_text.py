"""A section as people write it: ``bars 5-8``, ``bar 5``, ``5-8``, ``12.5-18 s``.

A plan, the command line and the screen read sections here, so that none of them knows a way the others do
not.
"""

from __future__ import annotations

import re

from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.section import Section

LAST_BAR = 9999
"""More bars than a song has; a larger number is a slip of the finger."""

LONGEST_S = 86_400.0
"""A day; no DI is longer."""

_DASH = r"\s*[-\u2013]\s*"
_NUMBER = r"[0-9]{1,9}(?:\.[0-9]{1,9})?"
_BARS = re.compile(rf"(?:bars?\s+)?([0-9]{{1,9}})(?:{_DASH}([0-9]{{1,9}}))?", re.IGNORECASE)
_SECONDS = re.compile(rf"({_NUMBER}){_DASH}({_NUMBER})\s*(?:s|sec|seconds)?", re.IGNORECASE)
_SAYS_SECONDS = re.compile(r".*[0-9]\.[0-9].*|.*[0-9]\s*(?:s|sec|seconds)", re.IGNORECASE)

BARS_ASKED = "write bars such as 5-8, or one bar such as 5"
SECONDS_ASKED = "write seconds from the DI's first frame, such as 12.5-18"


def parse_section(text: str) -> Section:
    """Return what a line of text asks for; without a unit numbers are bars.

    Parameters
    ----------
    text
        ``bars 5-8``, ``bar 5``, ``5-8``, ``5``, ``12.5-18 s``.

    Returns
    -------
    Section
        Its bars or seconds in order.

    Raises
    ------
    UseError
        With what is wrong and the way out.
    """
    text = text.strip()
    if _SAYS_SECONDS.fullmatch(text):
        return _of_seconds(text)
    return _of_bars(text)


def section_from(
    *, bars: str | float | None = None, seconds: str | float | None = None
) -> Section | None:
    """Return a section that is given by one of two keys; None where neither is.

    Parameters
    ----------
    bars
        Such as ``5-8`` or 5.
    seconds
        Such as ``12.5-18``.

    Returns
    -------
    Section | None
        Its bars or seconds in order.

    Raises
    ------
    UseError
        If both are given, or one cannot be.
    """
    if bars is not None and seconds is not None:
        raise UseError("a section has bars or seconds, not both; leave one of them out")
    if bars is not None:
        return _of_bars(f"{bars}".strip())
    return None if seconds is None else _of_seconds(f"{seconds}".strip())


def section_problem(text: str) -> str | None:
    """Return what is wrong with a section as it was typed, with the way out; None if nothing is."""
    try:
        parse_section(text)
    except UseError as error:
        return str(error)
    return None


def _of_bars(text: str) -> Section:
    found = _BARS.fullmatch(text)
    if found is None:
        hint = "; did you mean seconds? Write them with an s: 12.5-18 s" if "." in text else ""
        raise UseError(f"{_quoted(text)} is no section; {BARS_ASKED}{hint}")
    first, last = int(found[1]), int(found[2] or found[1])
    if first < 1:
        raise UseError("bars count from 1; what comes before bar 1 is asked for in seconds")
    if last > LAST_BAR:
        raise UseError(f"bar {last} is beyond all songs; {BARS_ASKED}")
    if last < first:
        raise UseError(f"bars {first}-{last} end before they begin; write bars {last}-{first}")
    return Section(from_bar=first, to_bar=last)


def _of_seconds(text: str) -> Section:
    found = _SECONDS.fullmatch(text)
    if found is None:
        raise UseError(f"{_quoted(text)} is no section; {SECONDS_ASKED}")
    first, last = float(found[1]), float(found[2])
    if last > LONGEST_S:
        raise UseError(f"{last:g} s is longer than a day; {SECONDS_ASKED}")
    if last <= first:
        swapped = f"; write {last:g}-{first:g}" if last < first else ""
        raise UseError(f"{first:g}-{last:g} s ends where it begins or before{swapped}")
    return Section(from_s=first, to_s=last)


def _quoted(text: str) -> str:
    return f"{shown(text)!r}" if text else "nothing"
