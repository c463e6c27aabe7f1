"""What is other in a corrected edit: findings that are gone, new ones, and how the hits moved."""

from __future__ import annotations

from collections.abc import Sequence

from audio.vocab.checked import Change
from audio.vocab.readiness import DiFinding
from audio.vocab.timing import NoTiming, Timing

SAME_PLACE_S = 0.05
"""Findings of one kind that lie this close are the same one: an edit moves a joint by some milliseconds,
and two joints further apart are two (common practice, no source)."""


def changes(
    before: Sequence[DiFinding],
    now: Sequence[DiFinding],
    *,
    hits: tuple[int, int],
    timing: tuple[Timing | NoTiming, Timing | NoTiming],
) -> Change:
    """Return what is other now.

    Parameters
    ----------
    before
        What was to be said of the revision before.
    now
        Of this one.
    hits
        How many each has.
    timing
        Of each.

    Returns
    -------
    Change
        Each finding of one is matched with at most one of the other: of the same code, and no further away
        than `SAME_PLACE_S`.
    """
    left = [one for one in now if one.weight != "good"]
    gone, stayed = [], 0
    for one in before:
        if one.weight == "good":
            continue
        same = next((other for other in left if _same(one, other)), None)
        if same is None:
            gone.append(one)
        else:
            left.remove(same)
            stayed += 1
    figures = [
        (one.mean_ms, one.spread_ms) if isinstance(one, Timing) else (None, None) for one in timing
    ]
    return Change(
        gone=tuple(gone),
        new=tuple(left),
        stayed=stayed,
        hits_before=hits[0],
        hits_now=hits[1],
        mean_before_ms=figures[0][0],
        mean_now_ms=figures[1][0],
        spread_before_ms=figures[0][1],
        spread_now_ms=figures[1][1],
    )


def _same(one: DiFinding, other: DiFinding) -> bool:
    if one.code != other.code:
        return False
    if one.at_s is None or other.at_s is None:
        return one.at_s is other.at_s
    return abs(one.at_s - other.at_s) <= SAME_PLACE_S
