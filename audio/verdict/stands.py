"""How microphones stand to each other: upside down against a neighbour, and how far away."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from audio.verdict.words import listing
from audio.vocab.findings import Finding
from audio.vocab.setup import PolarityResult, Stands
from audio.vocab.units import signed

CLOSE_PAIR_CM = 30.0
"""Microphones no further apart than this are mixed as one sound, and cancel where one is upside down: at
30 cm the first cancellation of a pair that agrees lies at 570 Hz (c/2d) (common practice, no source)."""


def findings_of_polarity(result: PolarityResult) -> tuple[Finding, ...]:
    """Return pairs at one amp that are upside down against each other, close pairs first.

    A close pair weighs look; of two far ones it informs: what is right there is a matter of taste.
    """
    known = [
        one
        for one in result.returns
        if one.polarity != "unsure" and one.after_reference_cm is not None
    ]
    pairs = [
        (a, b) for a, b in combinations(known, 2) if a.amp == b.amp and a.polarity != b.polarity
    ]
    return tuple(_finding(a, b) for a, b in sorted(pairs, key=lambda pair: _apart(*pair)))


def headline_of_polarity(result: PolarityResult, *, references: Sequence[str]) -> str:
    """Return where the microphones stand, in one sentence.

    `references` names the return of each amp that its others are compared with.
    """
    unheard = [one.name for one in result.returns if one.after_reference_cm is None]
    placed = [
        f"{one.name} {signed(abs(one.after_reference_cm))} cm"
        f" {'behind' if one.after_reference_cm >= 0 else 'before'} {beside.name}"
        for beside in result.returns
        if beside.name in references
        for one in result.returns
        if one.amp == beside.amp and one.after_reference_cm is not None and one != beside
    ]
    turned = [one.name for one in result.returns if one.polarity == "inverted"]
    said = [listing(placed)] if placed else []
    said += [f"{listing(turned)} upside down"] if turned else []
    said += [f"{listing(unheard)} not heard"] if unheard else []
    upright = "is" if len(references) == 1 else "are"
    return "; ".join(said) or f"{listing(references)} {upright} right side up"


def _apart(one: Stands, other: Stands) -> float:
    return abs((one.after_reference_cm or 0.0) - (other.after_reference_cm or 0.0))


def _finding(one: Stands, other: Stands) -> Finding:
    upside, right = (one, other) if one.polarity == "inverted" else (other, one)
    apart = _apart(one, other)
    close = apart <= CLOSE_PAIR_CM
    text = f"{upside.name} is upside down against {right.name}, {apart:.0f} cm apart."
    advice = (
        "Right for a microphone behind the cabinet; else flip the polarity of one of them."
        if close
        else "Listen to both ways: at this distance either may sound fuller."
    )
    return Finding(
        code="pair-inverted", weight="look" if close else "good", text=text, advice=advice
    )
