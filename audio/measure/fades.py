"""Raised-cosine fades of what is cut out of a signal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def rise(frames: int) -> NDArray[np.float64]:
    """Return a fade in, (frames,) · between 0 and 1, reaching neither; backwards it is a fade out."""
    return 0.5 - 0.5 * np.cos(np.pi * (np.arange(frames) + 0.5) / frames)


def direct_sound(before: int, after: int, *, fade: int) -> NDArray[np.float64]:
    """Return weights that keep the sound around a peak and leave out what comes later.

    Parameters
    ----------
    before
        Frames before the peak; the first half of them fade in.
    after
        Frames from the peak on.
    fade
        How many of these, the last ones, fade out.

    Returns
    -------
    NDArray[np.float64]
        (before + after,) · 0 to 1.
    """
    weights = np.ones(before + after)
    weights[: before // 2] = rise(before // 2)
    weights[-fade:] = rise(fade)[::-1]
    return weights
