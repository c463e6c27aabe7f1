"""What the callback plays: one roll, prefilled, on a ring of its own.

The callback reads a `Program` and writes four of its fields (`stopped`, `end_frame` at a stop, and the
two starved ones); everything else belongs to the feeding thread and to whoever commands the engine.
All of them are single references or integers, so neither side ever sees half of a change.

Frames are roll frames unless a name says otherwise.
"""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy.typing import NDArray

from audio.engine.mix import Change, Fade, Gains, Mixer, prepare
from audio.engine.ring import Ring
from audio.engine.timeline import Timeline

STOP_FADE_S = 0.010
"""Length of the fade at a stop."""

FEED_FRAMES = 4096
"""Rows the feeding thread renders at a time."""


class Program:
    """The output side of a roll.

    Parameters
    ----------
    timeline
        Where the samples come from.
    gains
        First gains, shape (sources, outputs), at least one source.
    ring_frames
        Size of the play ring, a power of two.
    block_frames
        Longest callback.
    rate
        Frames a second.
    length
        Roll frame at which it ends by itself.
    """

    def __init__(
        self,
        timeline: Timeline,
        gains: Gains,
        *,
        ring_frames: int,
        block_frames: int,
        rate: int,
        length: int,
    ) -> None:
        self.timeline = timeline
        self.start_frame = 0
        self.end_frame = length
        self.stopped = False
        self.starved_at: int | None = None
        self.starved_frames = 0
        self._mixer = Mixer(gains, block_frames=block_frames)
        self._ring = Ring(ring_frames, gains.shape[0], np.float32)
        self._ahead = ring_frames - 2 * block_frames - FEED_FRAMES
        self._margin = max(2 * block_frames, rate // 50)
        self._fed = 0
        self._jump: int | None = None
        self._scratch = np.zeros((FEED_FRAMES, gains.shape[0]), dtype=np.float32)
        silent = np.zeros_like(gains)
        self._silence = prepare(
            Change(
                silent, at_frame=0, frames=max(1, round(STOP_FADE_S * rate)), shape="equal power"
            )
        )
        self._next: Fade | None = None
        self._stop_asked = False

    # ------------------------------------------------------------ inside the callback

    def play(self, stream_frame: int, out: NDArray[np.float32]) -> None:
        """Write what sounds from `stream_frame` on into `out`, shape (frames, outputs)."""
        frame = stream_frame - self.start_frame
        self._obey(max(frame, 0))
        first = min(max(0, -frame), len(out))
        last = max(first, min(len(out), self.end_frame - frame))
        fed = max(first, min(last, self._fed - frame))
        if fed < last:
            if self.starved_at is None:
                self.starved_at = frame + fed
            self.starved_frames += last - fed
        out[:first] = 0.0
        out[fed:] = 0.0
        at = first
        for piece in self._ring.pieces(frame + first, fed - first):
            rows = cast("NDArray[np.float32]", piece)
            self._mixer.product(frame + at, rows, out[at : at + len(rows)])
            at += len(rows)

    def _obey(self, frame: int) -> None:
        if self.stopped:
            return
        if self._stop_asked:
            fade = self._silence.not_before(frame)
            self._mixer.begin(fade, frame=frame)
            self.end_frame = min(self.end_frame, fade.end)
            self.stopped = True
        elif self._next is not None:
            self._mixer.begin(self._next.not_before(frame), frame=frame)
            self._next = None

    # ------------------------------------------------------------ from other threads

    def stop(self) -> None:
        """Fade out from the next block on and end where the fade ends."""
        self._stop_asked = True

    def change(self, change: Change) -> None:
        """Fade the mixing product; replaces a change that has not begun."""
        self._next = prepare(change)

    @property
    def gains(self) -> Gains:
        """The gains as they will be when every fade asked for has ended."""
        pending = self._next
        return pending.target if pending else self._mixer.target

    def jump(self, to: int) -> None:
        """Continue the timeline at `to`, as soon as the ring allows."""
        self._jump = to

    def feed(self, stream_frame: int) -> bool:
        """Render up to `FEED_FRAMES` more; return whether there was room.

        Parameters
        ----------
        stream_frame
            Where the callback is now.

        Returns
        -------
        bool
            False when the ring is as full as it shall be.
        """
        now = max(0, stream_frame - self.start_frame)
        self._obey_jump(now)
        room = min(FEED_FRAMES, now + self._ahead - self._fed, self.end_frame - self._fed)
        if room <= 0:
            return False
        block = self._scratch[:room]
        self.timeline.render(self._fed, block)
        self._ring.put(self._fed, block)
        self._fed += room
        return True

    def _obey_jump(self, now: int) -> None:
        to, self._jump = self._jump, None
        if to is None:
            return
        # What is fed beyond the margin is old and is written again; the callback, a margin behind,
        # reads the new frames by the time it gets there.
        at = min(self._fed, now + self._margin)
        self.timeline.jump(at, to)
        self._fed = at

    def ready(self, stream_frame: int, frames: int) -> bool:
        """Return whether a callback of so many frames would find all it needs."""
        frame = stream_frame - self.start_frame
        # A stop needs no more frames, and must be obeyed where none can be had.
        return self._stop_asked or self._fed >= min(frame + frames, self.end_frame)

    def close(self) -> None:
        """Close the sources' files."""
        self.timeline.close()
