"""What the last code of a sound's samples is worth, as far as the samples show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_STRETCHES, _FRAMES = 64, 2048
"""What is looked at: quiet or loud, some of it moves by single codes."""
_FINEST, _COARSEST = 2.0**-23, 2.0**-15
"""Codes of 24 and of 16 bits."""


def smallest_step(samples: NDArray[np.float32]) -> float:
    """Return the smallest difference of neighbours in some stretches of (frames,), 1.0 where none moves."""
    stretches = range(0, samples.shape[0], max(samples.shape[0] // _STRETCHES, 1))
    steps = np.concatenate([np.abs(np.diff(samples[at : at + _FRAMES])) for at in stretches])
    return float(np.min(steps[steps > 0.0], initial=1.0))


def code_of(samples: NDArray[np.float32]) -> float:
    """Return what a code of (frames,) is worth: that of 24 bits, or what is seen to be coarser, to 16."""
    return min(max(smallest_step(samples), _FINEST), _COARSEST)
