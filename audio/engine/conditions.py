"""When a roll ends before its length: a level under a threshold for so long.

Levels are RMS over windows of 50 ms counted from roll frame 0, so the frame at which a roll ends does
not depend on how its frames arrived.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from audio.vocab.messages import DeadEnd, QuietEnd
from audio.vocab.units import ratio_from_db

WINDOW_S = 0.05

Samples = NDArray[np.float32]
"""Shape (frames, channels), full scale 1.0."""


class Windows:
    """Cuts a run of blocks into whole windows and gives each one's mean squares.

    Parameters
    ----------
    frames
        Length of a window.
    channels
        Columns of the blocks.
    """

    def __init__(self, *, frames: int, channels: int) -> None:
        self.frames = frames
        self._sum = np.zeros(channels)
        self._have = 0
        self._end = 0

    def feed(self, block: Samples) -> Iterator[tuple[int, NDArray[np.float64]]]:
        """Yield (roll frame after the window, mean squares) for each window that `block` ends."""
        at = 0
        while at < len(block):
            part = block[at : at + self.frames - self._have]
            self._sum += np.einsum("ij,ij->j", part, part, dtype=np.float64)
            self._have += len(part)
            self._end += len(part)
            at += len(part)
            if self._have == self.frames:
                yield self._end, self._sum / self.frames
                self._sum = np.zeros_like(self._sum)
                self._have = 0


@dataclass(frozen=True, slots=True)
class Due:
    """A roll shall end at a frame."""

    frame: int
    reason: Literal["quiet", "dead"]


class Conditions:
    """Looks at what is recorded, window by window.

    Parameters
    ----------
    rate
        Frames a second.
    inputs
        How many of the columns are inputs; the rest are outputs.
    outputs
        How many are outputs.
    quiet
        End when inputs are quiet, or None.
    dead
        End when the output sounds and no input answers, or None.
    """

    def __init__(
        self,
        *,
        rate: int,
        inputs: int,
        outputs: int,
        quiet: QuietEnd | None,
        dead: DeadEnd | None,
    ) -> None:
        self._windows = Windows(frames=round(WINDOW_S * rate), channels=inputs + outputs)
        self._inputs = inputs
        self._quiet = quiet
        self._dead = dead
        self._quiet_for = 0
        self._amps = _amps(dead)
        self._unanswered = [0] * len(self._amps)

    def feed(self, block: Samples) -> Due | None:
        """Take the next frames of the roll; return where it shall end, once that is known."""
        if self._quiet is None and self._dead is None:
            return None
        for end, squares in self._windows.feed(block):
            if self._dead is not None and self._is_dead(self._dead, squares):
                return Due(end, "dead")
            if self._quiet is not None and self._is_quiet(self._quiet, end, squares):
                return Due(end, "quiet")
        return None

    def _is_quiet(self, quiet: QuietEnd, end: int, squares: NDArray[np.float64]) -> bool:
        if end - self._windows.frames < quiet.after_frame:
            return False
        under = _all_under(quiet.inputs, quiet.under_dbfs, squares)
        self._quiet_for = self._quiet_for + self._windows.frames if under else 0
        return self._quiet_for >= quiet.for_frames

    def _is_dead(self, dead: DeadEnd, squares: NDArray[np.float64]) -> bool:
        sounds = squares[self._inputs + dead.output] > ratio_from_db(dead.loud_dbfs) ** 2
        for amp, (inputs, under_dbfs) in enumerate(self._amps):
            if not _all_under(inputs, under_dbfs, squares):
                self._unanswered[amp] = 0
            elif sounds:
                self._unanswered[amp] += self._windows.frames
        return max(self._unanswered) >= dead.for_frames


def _amps(dead: DeadEnd | None) -> list[tuple[tuple[int, ...], tuple[float, ...]]]:
    """Return inputs and thresholds of each amp that has to answer."""
    if dead is None:
        return []
    of_each = dead.amps or (0,) * len(dead.inputs)
    known = list(zip(of_each, dead.inputs, dead.under_dbfs, strict=True))
    return [
        (
            tuple(number for at, number, _ in known if at == amp),
            tuple(level for at, _, level in known if at == amp),
        )
        for amp in dict.fromkeys(of_each)
    ]


def _all_under(
    inputs: tuple[int, ...], under_dbfs: tuple[float, ...], squares: NDArray[np.float64]
) -> bool:
    pairs = zip(inputs, under_dbfs, strict=True)
    return all(squares[i] < ratio_from_db(level) ** 2 for i, level in pairs)
