"""Fades: their tables, and the valve that closes and opens what is sent without a click.

Two places fade. What is known beforehand (a stretch cut out of a file, a splice, the end of a roll) is
faded where it is rendered, source by source. What nobody can know (a stop, a feed that runs dry) is
faded by the valve, inside the callback, over everything that is sent.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FADE_S = 0.010
"""Length of every fade that is not asked for longer; common practice, no source."""


def fade_frames(rate: int) -> int:
    """Return the length of a fade, at least one frame."""
    return max(1, round(FADE_S * rate))


def falling(frames: int) -> NDArray[np.float32]:
    """Return the weights of a fade out.

    Parameters
    ----------
    frames
        Its length, at least 1.

    Returns
    -------
    NDArray[np.float32]
        Shape (frames, 1), from nearly 1 to nearly 0: half a cosine, steep nowhere, and read backwards
        what is missing to 1.
    """
    at = (np.arange(frames, dtype=np.float64) + 0.5) / frames
    return (0.5 + 0.5 * np.cos(np.pi * at)).astype(np.float32)[:, None]


def rising(frames: int) -> NDArray[np.float32]:
    """Return the weights of a fade in: `falling` read backwards."""
    return np.ascontiguousarray(falling(frames)[::-1])


class Valve:
    """Open, shut, or on its way; changes its mind anywhere without a step.

    Runs inside the callback: one product with a table in place, and none while it is open.

    Parameters
    ----------
    frames
        How long it takes from one end to the other.
    """

    def __init__(self, frames: int) -> None:
        self.frames = frames
        self._falling = falling(frames)
        self._rising = rising(frames)
        self._shut = 0
        self._closing = False

    @property
    def left(self) -> int:
        """Frames until it is shut, from where it stands."""
        return self.frames - self._shut

    def close(self) -> None:
        """Close from the next row on."""
        self._closing = True

    def open(self) -> None:
        """Open from the next row on."""
        self._closing = False

    def weigh(self, out: NDArray[np.float32]) -> int:
        """Weigh the next rows in place; return how many of them were not sent as they were.

        Parameters
        ----------
        out
            Shape (frames, outputs).

        Returns
        -------
        int
            0 while it is open. Behind a valve that is shut there are exact zeros.
        """
        if self._closing:
            rows = min(len(out), self.left)
            out[:rows] *= self._falling[self._shut : self._shut + rows]
            out[rows:] = 0.0
            self._shut += rows
            return len(out)
        if not self._shut:
            return 0
        rows = min(len(out), self._shut)
        out[:rows] *= self._rising[self.left : self.left + rows]
        self._shut -= rows
        return rows
