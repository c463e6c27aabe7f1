"""The loudest stretch of a recording, found in windows that come in one after the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence


def loudest_at(levels_dbfs: Sequence[float], *, windows: int) -> tuple[int, float]:
    """Find the loudest stretch of so many windows in a row.

    Parameters
    ----------
    levels_dbfs
        RMS of each window, one at least; windows follow each other without overlap.
    windows
        Length of the stretch, 1 or more; all there is where there are fewer.

    Returns
    -------
    tuple of int and float
        Index of its first window, the earliest of those that are alike; RMS of the stretch, dBFS.
    """
    powers = 10.0 ** (np.asarray(levels_dbfs, dtype=np.float64) / 10.0)
    length = min(windows, powers.size)
    sums = np.convolve(powers, np.ones(length), mode="valid")
    # What differs by less than rounding is alike: the earliest is taken.
    at = int(np.argmax(sums >= np.max(sums) * (1.0 - 1e-9)))
    return at, float(10.0 * np.log10(max(sums[at] / length, 1e-30)))
