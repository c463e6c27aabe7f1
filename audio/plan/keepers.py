"""Which variants of a part were chosen, and how they are heard."""

from __future__ import annotations

from collections.abc import Iterable

from audio.vocab.balance import Balance
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


def balance_of(said: Iterable[Opinion], part: str, number: int) -> Balance:
    """Return at which balance a variant is heard: as it was kept, else as it was listened to last.

    Parameters
    ----------
    said
        Of variants of any part.
    part
        Its part.
    number
        Its own.

    Returns
    -------
    Balance
        Every microphone at 0 dB where nobody said anything.
    """
    one = next((one for one in said if (one.part, one.number) == (part, number)), None)
    return one.blend if one is not None else Balance()
