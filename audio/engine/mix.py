"""The mixing product: sources to outputs, and fades of its gains at a frame.

Runs inside the callback: everything it touches is allocated before the roll starts. Where a source may
not reach an output, the product has no gain to begin with: whatever target a fade names, only what is
allowed is ever copied into it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Gains = NDArray[np.float32]
"""Shape (sources, outputs), linear, 0 to 1."""
Allowed = NDArray[np.bool_]
"""Shape (sources, outputs): whether that source may reach that output at all."""
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
    falling, rising = weights(change.frames, change.shape)
    return Fade(
        target=np.ascontiguousarray(change.target, dtype=np.float32),
        start=change.at_frame,
        end=change.at_frame + change.frames,
        out_weights=falling,
        in_weights=rising,
    )


def weights(frames: int, shape: Shape) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return what falls and what rises in a crossfade, shape (frames, 1) each."""
    at = (np.arange(frames, dtype=np.float64) + 0.5) / frames
    if shape == "linear":
        falling, rising = 1.0 - at, at
    else:
        falling, rising = np.cos(at * np.pi / 2), np.sin(at * np.pi / 2)
    return falling.astype(np.float32)[:, None], rising.astype(np.float32)[:, None]


class Mixer:
    """Gains of a roll, and the fade that is under way.

    A fade takes the product apart into what stays, what rises and what falls. A source whose gain stays
    is sent bit for bit as before, and no gain is ever larger than the larger of its two ends.

    Parameters
    ----------
    gains
        Gains at the start, shape (sources, outputs).
    allowed
        Which of them may ever be more than zero, the same shape.
    block_frames
        Longest block that will be asked for.
    """

    def __init__(self, gains: Gains, *, allowed: Allowed, block_frames: int) -> None:
        self._allowed = allowed
        self._from = np.zeros(gains.shape, dtype=np.float32)
        np.copyto(self._from, gains, where=allowed)
        self._to = self._from.copy()
        self._stays = self._from.copy()
        self._rises = np.zeros_like(self._from)
        self._falls = np.zeros_like(self._from)
        self._part = np.zeros((block_frames, gains.shape[1]), dtype=np.float32)
        self._fade: Fade | None = None

    def begin(self, fade: Fade, *, frame: int) -> None:
        """Put a prepared fade in force; one under way is frozen where it stands at `frame`."""
        if self._fade is not None:
            self._freeze(self._fade, frame)
        np.copyto(self._to, fade.target, where=self._allowed)
        np.minimum(self._from, self._to, out=self._stays)
        np.subtract(self._to, self._stays, out=self._rises)
        np.subtract(self._from, self._stays, out=self._falls)
        self._fade = fade

    def _freeze(self, fade: Fade, frame: int) -> None:
        """Make the gains of `frame` those that the next fade starts from."""
        if frame >= fade.end:
            np.copyto(self._from, self._to)
        elif frame > fade.start:
            row = frame - fade.start
            self._rises *= fade.in_weights[row]
            self._falls *= fade.out_weights[row]
            np.add(self._stays, self._rises, out=self._from)
            self._from += self._falls

    def product(self, frame: int, sources: NDArray[np.float32], out: NDArray[np.float32]) -> None:
        """Mix `sources` (frames, sources) that begin at roll frame `frame` into `out`."""
        fade = self._fade
        if fade is not None and frame >= fade.end:
            np.copyto(self._from, self._to)
            self._fade = fade = None
        if fade is None or frame + len(sources) <= fade.start:
            np.matmul(sources, self._from, out=out)
        else:
            self._blend(fade, frame, sources, out)

    def _blend(
        self, fade: Fade, frame: int, sources: NDArray[np.float32], out: NDArray[np.float32]
    ) -> None:
        first = max(0, fade.start - frame)
        last = min(len(sources), fade.end - frame)
        rows = slice(frame + first - fade.start, frame + last - fade.start)
        np.matmul(sources[:first], self._from, out=out[:first])
        np.matmul(sources[first:last], self._stays, out=out[first:last])
        np.matmul(sources[last:], self._to, out=out[last:])
        part = self._part[: last - first]
        for gains, table in ((self._rises, fade.in_weights), (self._falls, fade.out_weights)):
            np.matmul(sources[first:last], gains, out=part)
            part *= table[rows]
            out[first:last] += part
