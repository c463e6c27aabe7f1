"""Raised-cosine fades of what is cut out of a signal."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def rise(frames: int) -> NDArray[np.float64]:
    """Return a fade in, (frames,) · between 0 and 1, reaching neither; backwards it is a fade out."""
    return 0.5 - 0.5 * np.cos(np.pi * (np.arange(frames) + 0.5) / frames)


def faded_ends(frames: int, ramp: int) -> NDArray[np.float64]:
    """Return weights, (frames,), that fade in and out over `ramp` frames and are 1 between."""
    weights = np.ones(frames)
    weights[:ramp] = rise(ramp)
    weights[-ramp:] = rise(ramp)[::-1]
    return weights


class Window(NamedTuple):
    """Stretch around a peak that counts as direct sound, seconds."""

    before: float
    """Before the peak; the first half of it fades in."""
    after: float
    """From the peak on."""
    fade: float
    """How much of that, at its end, fades out: later echoes."""


DIRECT = Window(before=0.002, after=0.006, fade=0.003)
DIRECT_SHORT = Window(before=0.002, after=0.0028, fade=0.0012)
"""Where a bounce that is louder than the direct sound spoils the other."""


@lru_cache(maxsize=8)
def direct_sound(window: Window, *, rate: int) -> tuple[NDArray[np.float64], int]:
    """Return weights that keep the sound around a peak and leave out what comes later.

    Parameters
    ----------
    window
        How much of it.
    rate
        Frames a second.

    Returns
    -------
    tuple
        (frames,) · 0 to 1, not to be written to; and at which of them the peak lies.
    """
    before, after, fade = (round(s * rate) for s in window)
    weights = np.ones(before + after)
    weights[: before // 2] = rise(before // 2)
    weights[-fade:] = rise(fade)[::-1]
    return weights, before
