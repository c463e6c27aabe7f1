"""What hits are held against, as people type it: ``2``, ``2 swung 62``, ``own mean``."""

from __future__ import annotations

import re

from audio.vocab.characters import shown
from audio.vocab.checked import HitsAsked, hits_problem
from audio.vocab.errors import UseError

ASKS = (
    "Which grid? Such as: 2 (places in a beat), 2 swung 62, 3, own mean; nothing: found by itself"
)

_GRID = re.compile(
    r"(?:(?P<parts>[0-9]{1,3})(?:\s+swung\s+(?P<swing>[0-9]{1,3}(?:\.[0-9]{1,3})?)\s*%?)?)?"
    r"\s*(?P<own>own mean)?",
    re.IGNORECASE,
)


def read_grid(words: str) -> HitsAsked:
    """Return what a line of text asks for.

    Parameters
    ----------
    words
        Places in a beat, 1, 2, 3, 4, 6 or 8; ``swung`` and the share of the first of two, 50 to 75 %; ``own
        mean``. All may be left out.

    Returns
    -------
    HitsAsked
        What was left out is found by itself.

    Raises
    ------
    UseError
        With what is wrong and the way out.
    """
    found = _GRID.fullmatch(words.strip())
    if found is None:
        raise UseError(
            f"{shown(words.strip())!r} is no grid; write places in a beat, such as 2, or 2 swung 62"
        )
    asked = HitsAsked(
        parts=int(found["parts"]) if found["parts"] else None,
        swing=float(found["swing"]) / 100 if found["swing"] else None,
        own_mean=found["own"] is not None,
    )
    if problem := hits_problem(asked):
        raise UseError(problem)
    return asked


def grid_problem(words: str) -> str | None:
    """Return what is wrong with a grid as it was typed, with the way out; None if nothing is."""
    try:
        read_grid(words)
    except UseError as error:
        return str(error)
    return None


def asked_words(asked: HitsAsked) -> str:
    """Return a grid as it is typed."""
    swing = "" if asked.swing is None else f" swung {asked.swing * 100:g}"
    parts = "" if asked.parts is None else f"{asked.parts}{swing}"
    return f"{parts} own mean".strip() if asked.own_mean else parts
