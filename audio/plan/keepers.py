"""Which variants of a part were chosen."""

from __future__ import annotations

from collections.abc import Iterable

from audio.vocab.opinion import Opinion


def keepers_of(said: Iterable[Opinion], part: str) -> tuple[int, ...]:
    """Return the numbers of a part's keepers, the lowest first: an order that no later word changes.

    Parameters
    ----------
    said
        Of variants of any part.
    part
        Its name.

    Returns
    -------
    tuple of int
        None where nothing was chosen yet; a discarded variant is no keeper.
    """
    return tuple(sorted(one.number for one in said if one.part == part and one.keeper is not None))
