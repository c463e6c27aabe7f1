"""Whether a click comes again after a constant distance: an echo, or a return fed back to the send."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.heard import shared
from audio.signals.click import half_frames
from audio.vocab.results import ClickTrain

if TYPE_CHECKING:
    from numpy.typing import NDArray

LIKE_STRENGTH = 0.3
"""Repeat over arrival, linear, from which it counts."""

_FEWEST = 4
"""Clicks whose repeat must fall inside the recording, or all of a shorter train's."""

_BOUNCE_S = 0.020
"""Repeats nearer than this are walls and floor, unless they come a third time."""

_SHORTEST_S = 0.0015


def find_repeats(correlated: NDArray[np.float64], train: ClickTrain, *, lag: int) -> float | None:
    """Return the frames after which the clicks come again at like strength, None where they do not.

    Parameters
    ----------
    correlated
        (frames,) · correlation of the recording with the pulse.
    train
        What was played.
    lag
        Where the clicks arrived, whole frames after they left.

    Returns
    -------
    float | None
        Frames · more than 0.
    """
    rows, lengths = _rows(correlated, train, lag=lag)
    strong = _strength(rows, lengths, near=round(_BOUNCE_S * train.sample_rate))
    if strong.size < 3:
        return None
    # Nearer than its own length a pulse is like itself; at its own spacings a train is.
    shortest = max(round(_SHORTEST_S * train.sample_rate), half_frames(rate=train.sample_rate))
    strong[:shortest] = 0.0
    for own in np.unique(np.abs(np.subtract.outer(train.positions, train.positions))):
        strong[max(own - shortest, 0) : own + shortest + 1] = 0.0
    tops = (strong[1:-1] >= strong[:-2]) & (strong[1:-1] > strong[2:])
    tops &= strong[1:-1] >= LIKE_STRENGTH
    for distance in np.flatnonzero(tops) + 1:
        far = distance > _BOUNCE_S * train.sample_rate
        again = far or _comes_a_third_time(strong, int(distance))
        if again and shared(rows[lengths > distance, distance]):
            return float(distance)
    return None


def _rows(
    correlated: NDArray[np.float64], train: ClickTrain, *, lag: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return what follows each click's arrival, zeros where the recording has ended, and until where."""
    starts = [p + lag for p in train.positions]
    longest = max(train.frames - starts[min(_FEWEST, len(starts)) - 1], 0)
    rows = np.zeros((len(starts), longest))
    lengths = np.zeros(len(starts), dtype=np.int64)
    for row, (start, sign) in enumerate(zip(starts, train.signs, strict=True)):
        piece = correlated[start : start + longest]
        rows[row, : piece.size] = sign * piece
        lengths[row] = piece.size
    return rows, lengths


def _strength(
    rows: NDArray[np.float64], lengths: NDArray[np.int64], *, near: int
) -> NDArray[np.float64]:
    """Return the mean strength at each distance, the strongest near the arrival = 1."""
    there = len(lengths) - np.searchsorted(np.sort(lengths), np.arange(rows.shape[1]), side="right")
    strength = np.abs(np.sum(rows, axis=0) / np.maximum(there, 1))
    most = float(np.max(strength[:near], initial=0.0))
    return strength / most if most > 0.0 else np.zeros(0)


def _comes_a_third_time(strong: NDArray[np.float64], distance: int) -> bool:
    twice = strong[2 * distance - 2 : 2 * distance + 3]
    return bool(twice.size and np.max(twice) >= LIKE_STRENGTH**2)
