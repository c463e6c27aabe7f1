"""How far a figure is to be trusted, told by itself: worked out anew without each stretch in turn.

After Efron, The Jackknife, the Bootstrap and Other Resampling Plans (1982), chapter 3. Stretches are long,
so that what comes again within one, a tremolo, counts once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MOST = 24
FEWEST = 4
"""Stretches; fewer tell no spread."""
_ROWS = 4
"""Rows in a stretch at least: with half a second each about as long as the slowest tremolo swings."""
QUARTERS = 4


def without_each(rows: Floats) -> Floats:
    """Return the mean of all rows but those of one stretch, for each stretch, then for each quarter.

    Parameters
    ----------
    rows
        (rows, ...) · figures along a sound, in order.

    Returns
    -------
    NDArray[np.float64]
        (stretches + 4, ...); none where the rows are too few.
    """
    count = min(MOST, rows.shape[0] // _ROWS)
    if count < FEWEST:
        return np.zeros((0, *rows.shape[1:]))
    return np.concatenate((_without(rows, count), _without(rows, QUARTERS)))


def spread(figures: Floats) -> Floats | None:
    """Return the standard error of a figure that was worked out anew from each of `without_each`.

    Parameters
    ----------
    figures
        (stretches + 4, ...).

    Returns
    -------
    NDArray[np.float64] or None
        (...); at least half of what the quarter that lies farthest off has it otherwise, which of four
        Gaussian ones is one standard error, too, and tells what swings slower than a stretch; None where
        there are no figures.
    """
    if not figures.shape[0]:
        return None
    each, quarters = figures[:-QUARTERS], figures[-QUARTERS:]
    error = np.sqrt((each.shape[0] - 1) * np.var(each, axis=0))
    farthest = (QUARTERS - 1) * np.max(np.abs(quarters - np.mean(each, axis=0)), axis=0)
    return np.asarray(np.maximum(error, farthest / 2.0))


def _without(rows: Floats, count: int) -> Floats:
    edges = np.linspace(0, rows.shape[0], count + 1).astype(np.int64)
    sums = np.add.reduceat(rows, edges[:-1], axis=0)
    left = rows.shape[0] - np.diff(edges)
    return np.asarray((np.sum(rows, axis=0) - sums) / left.reshape(-1, *[1] * (rows.ndim - 1)))
