"""What a finder's own offset is for each thing that is struck: no finder pays for a convention."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import Protocol

import mir_eval
import numpy as np
from numpy.typing import NDArray

WINDOW_S = 0.050
"""MIREX's window."""


class Struck(Protocol):
    """Sound, where hits begin in it by the same rule for all, and what is struck there."""

    samples: NDArray[np.float32]
    hits_s: list[float]
    keys: Sequence[Hashable]


def offsets_s(by_itself: Struck, found_s: NDArray[np.float64]) -> dict[Hashable, float]:
    """Return how late a finder says each thing that is struck, the median, from each played alone."""
    late: dict[Hashable, list[float]] = {}
    truth, found = np.array(by_itself.hits_s), np.sort(found_s)
    for here, there in mir_eval.util.match_events(truth, found, WINDOW_S):
        error = float(found[there] - truth[here])
        late.setdefault(by_itself.keys[here], []).append(error)
    return {key: float(np.median(each)) for key, each in late.items()}


def led_s(phrase: Struck, offsets: dict[Hashable, float]) -> list[float]:
    """Return where a finder of these offsets should say a phrase's hits; one never found has the usual."""
    usual = float(np.median(list(offsets.values()) or [0.0]))
    return [
        hit + offsets.get(key, usual) for hit, key in zip(phrase.hits_s, phrase.keys, strict=True)
    ]
