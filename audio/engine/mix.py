"""The mixing product: sources to outputs, and fades of its gains at a frame.

Runs inside the callback: everything it touches is allocated before the roll starts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Gains = NDArray[np.float32]
"""Shape (sources, outputs), linear."""
Shape = Literal["linear", "equal power"]


@dataclass(frozen=True, slots=True)
class Change:
    """A fade of the whole product from what it is to `target`."""

    target: Gains
    at_frame: int
    """Frame of the roll at which the fade begins."""
    frames: int
    """Its length, at least 1."""
    shape: Shape


@dataclass(frozen=True, slots=True)
class Fade:
    """A change with its tables, ready for the callback."""

    target: Gains
    start: int
    end: int
    out_weights: NDArray[np.float32]
    in_weights: NDArray[np.float32]

    def not_before(self, frame: int) -> Fade:
        """Return the same fade, begun at `frame` where it would have begun earlier."""
        if self.start >= frame:
            return self
        return replace(self, start=frame, end=frame + self.end - self.start)


def prepare(change: Change) -> Fade:
    """Build the tables of a fade; never called inside the callback."""
    at = (np.arange(change.frames, dtype=np.float64) + 0.5) / change.frames
    if change.shape == "linear":
        falling, rising = 1.0 - at, at
    else:
        falling, rising = np.cos(at * np.pi / 2), np.sin(at * np.pi / 2)
    return Fade(
        target=np.ascontiguousarray(change.target, dtype=np.float32),
        start=change.at_frame,
        end=change.at_frame + change.frames,
        out_weights=falling.astype(np.float32)[:, None],
        in_weights=rising.astype(np.float32)[:, None],
    )


class Mixer:
    """Gains of a roll, and the fade that is under way.

    Parameters
    ----------
    gains
        Gains at the start, shape (sources, outputs).
    block_frames
        Longest block that will be asked for.
    """

    def __init__(self, gains: Gains, *, block_frames: int) -> None:
        self._gains = np.ascontiguousarray(gains, dtype=np.float32)
        self._block = block_frames
        self._second = np.zeros((block_frames, gains.shape[1]), dtype=np.float32)
        self._fade: Fade | None = None

    @property
    def target(self) -> Gains:
        """The gains as they will be when the fade under way has ended."""
        fade = self._fade
        return fade.target if fade else self._gains

    def begin(self, fade: Fade, *, frame: int) -> None:
        """Put a prepared fade in force; one under way is frozen where it stands at `frame`."""
        old = self._fade
        if old is not None:
            self._gains = self._at(old, frame)
        self._fade = fade

    def _at(self, fade: Fade, frame: int) -> Gains:
        if frame <= fade.start:
            return self._gains
        if frame >= fade.end:
            return fade.target
        row = frame - fade.start
        mixed: Gains = self._gains * fade.out_weights[row] + fade.target * fade.in_weights[row]
        return mixed

    def product(self, frame: int, sources: NDArray[np.float32], out: NDArray[np.float32]) -> None:
        """Mix `sources` (frames, sources) that begin at roll frame `frame` into `out`."""
        fade = self._fade
        if fade is not None and frame >= fade.end:
            self._gains, self._fade, fade = fade.target, None, None
        np.matmul(sources, self._gains, out=out)
        if fade is None or frame + len(sources) <= fade.start:
            return
        self._blend(fade, frame, sources, out)

    def _blend(
        self, fade: Fade, frame: int, sources: NDArray[np.float32], out: NDArray[np.float32]
    ) -> None:
        first = max(0, fade.start - frame)
        last = min(len(sources), fade.end - frame)
        rows = slice(frame + first - fade.start, frame + last - fade.start)
        second = self._second[: len(sources)]
        np.matmul(sources, fade.target, out=second)
        out[first:last] *= fade.out_weights[rows]
        second[first:last] *= fade.in_weights[rows]
        out[first:last] += second[first:last]
        out[last:] = second[last:]
