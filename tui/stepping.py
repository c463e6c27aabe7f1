"""One step up or down a list, which ends where it ends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

_V = TypeVar("_V")


def stepped(values: Sequence[_V], at: int, step: int) -> _V:
    """Return the value `step` places after the one at `at`, or the last one on the way there.

    Parameters
    ----------
    values
        One at least.
    at
        Where it stands, from 0.
    step
        Places to go; back where negative.

    Returns
    -------
    The value there.
    """
    return values[min(max(at + step, 0), len(values) - 1)]
