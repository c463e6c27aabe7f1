"""What the callback plays: one roll, prefilled, on a ring of its own.

Each field has one writer. The callback writes where the sound ends after a stop, and what starved; the
feeding thread writes how far is fed and where the roll ends by itself; whoever commands the engine puts
wishes in, which the other two fulfil at a frame where they still can. All of them are single references
or integers, so nobody ever sees half of a change.

Frames are roll frames unless a name says otherwise.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from functools import partial
from typing import cast

import numpy as np
from numpy.typing import NDArray

from audio.engine.fades import Valve, fade_frames, falling
from audio.engine.mix import Allowed, Change, Fade, Gains, Mixer, prepare
from audio.engine.readahead import ReadAhead
from audio.engine.ring import Ring
from audio.engine.timeline import Timeline
from audio.engine.voice import Voice
from audio.vocab.messages import Span

FEED_FRAMES = 4096
"""Rows the feeding thread renders at a time; more than a fade at 192 kHz."""

ENOUGH_S = 0.1
"""A send that starved stays silent until so much is fed again."""


LANDING_S = 0.065
"""Where nothing is sent, what plays goes on so much longer before it goes elsewhere, the fade on top:
dozens of files read at two places at once take some 30 ms of it on a busy machine. Under 0.1 s in all,
which nobody takes for a delay after a key (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class _Jump:
    to: int


@dataclass(frozen=True, slots=True)
class _End:
    at: int


@dataclass(frozen=True, slots=True)
class _Loop:
    span: Span | None


class Program:
    """The output side of a roll.

    Parameters
    ----------
    timeline
        Where the samples come from.
    gains
        First gains, shape (sources, outputs), at least one source.
    allowed
        Which of them may ever be more than zero.
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
        allowed: Allowed,
        ring_frames: int,
        block_frames: int,
        rate: int,
        length: int,
    ) -> None:
        self.timeline = timeline
        self.allowed = allowed
        self.start_frame = 0
        self.length = max(0, length)
        self.behind = False
        """Whether the callback stopped it because nobody fetches what is recorded."""
        self.starved_at: int | None = None
        self.starved_frames = 0
        """Rows that were missing, or faded because of that."""
        self._mixer = Mixer(gains, allowed=allowed, block_frames=block_frames)
        self._wanted = gains
        self._ring = Ring(ring_frames, gains.shape[0], np.float32)
        self._ahead = ring_frames - 2 * block_frames - FEED_FRAMES
        self._valve = Valve(fade_frames(rate))
        self._fall = falling(self._valve.frames)
        # What is rendered again lies behind a fade, should the feed be late, and some callbacks.
        self._margin = max(3 * block_frames, rate // 50) + self._valve.frames
        self._enough = round(ENOUGH_S * rate)
        self._fed = 0
        self._wishes: deque[_Jump | _End | _Loop] = deque()
        self._scratch = np.zeros((FEED_FRAMES, gains.shape[0]), dtype=np.float32)
        self._last = np.zeros(gains.shape[1], dtype=np.float32)
        self._starving = False
        self._next: Fade | None = None
        self._taken: Fade | None = None
        self._ahead_of_it: ReadAhead | None = None
        self._stop_asked = False
        self._stop_end: int | None = None

    @property
    def end_frame(self) -> int:
        """Roll frame from which nothing is sent any more, as far as it is known."""
        stop = self._stop_end
        return self.length if stop is None else min(self.length, stop)

    # ------------------------------------------------------------ inside the callback

    def play(self, stream_frame: int, out: NDArray[np.float32]) -> None:
        """Write what sounds from `stream_frame` on into `out`, shape (frames, outputs)."""
        frame = stream_frame - self.start_frame
        self._obey(frame)
        first = min(max(0, -frame), len(out))
        last = max(first, min(len(out), self.end_frame - frame))
        out[:first] = 0.0
        out[last:] = 0.0
        if first < last:
            self._sound(frame + first, out[first:last])

    def _obey(self, frame: int) -> None:
        if self._stop_end is not None:
            return
        if self._stop_asked:
            self._valve.close()
            self._stop_end = frame + self._valve.left if frame > 0 else 0
            return
        asked = self._next
        if asked is not None and asked is not self._taken:
            at = max(frame, 0)
            self._mixer.begin(asked.not_before(at), frame=at)
            self._taken = asked

    def _sound(self, frame: int, out: NDArray[np.float32]) -> None:
        fed, at, done = self._fed, frame, 0
        there = max(0, min(len(out), fed - frame))
        for piece in self._ring.pieces(frame, there) if there else ():
            rows = cast("NDArray[np.float32]", piece)
            self._mixer.product(at, rows, out[done : done + len(rows)])
            at, done = at + len(rows), done + len(rows)
        if done:
            self._last[:] = out[done - 1]
        # Rows that are missing hold the last value, in case the valve is not shut yet.
        out[done:] = self._last
        self._weigh(frame, out, fed)

    def _weigh(self, frame: int, out: NDArray[np.float32], fed: int) -> None:
        """Close the valve in time where the feed runs low, and open it again once it does not."""
        if self._stop_end is not None:
            self._valve.weigh(out)
            return
        close_at = 0
        whole, needed = fed >= self.length, frame + len(out) + self._valve.frames
        if self._starving and (whole or fed >= needed + self._enough):
            self._starving = False
            self._valve.open()
        elif not self._starving and not whole and fed < needed:
            self._starving = True
            close_at = max(0, fed - self._valve.frames - frame)
            self._note_starved(frame, self._valve.weigh(out[:close_at]))
            self._valve.close()
        self._note_starved(frame + close_at, self._valve.weigh(out[close_at:]))

    def _note_starved(self, frame: int, frames: int) -> None:
        if frames and self.starved_at is None:
            self.starved_at = frame
        self.starved_frames += frames

    # ------------------------------------------------------------ from other threads

    def stop(self) -> None:
        """Fade out from the next block on and end where the fade ends; nothing undoes it."""
        self._stop_asked = True

    @property
    def stopped(self) -> bool:
        """Whether a stop was asked for."""
        return self._stop_asked

    def change(self, change: Change) -> None:
        """Fade the mixing product; replaces a change that has not begun."""
        self._wanted = change.target
        self._next = prepare(change)

    @property
    def gains(self) -> Gains:
        """The gains as they will be when every fade asked for has ended."""
        return self._wanted

    def read_ahead(self, voices: tuple[Voice, ...], *, rate: int) -> None:
        """Read the timeline's files ahead from now on, and at a place before it is jumped to."""
        self._margin = max(self._margin, round(LANDING_S * rate) + self._valve.frames)
        self._ahead_of_it = ReadAhead(
            voices,
            rate=rate,
            at=lambda: self.timeline.at(self._fed),
            loop=lambda: self.timeline.loop,
        )

    def jump(self, to: int) -> None:
        """Continue the timeline at `to`, as soon as the ring allows."""
        self._wish_at(to, _Jump(to))

    def loop(self, span: Span | None) -> None:
        """Repeat a stretch of the timeline from where the ring allows on, or nothing any more.

        Where the timeline is elsewhere then, it goes on at the stretch's start.
        """
        self._wish_at(span.start if span is not None else None, _Loop(span))

    def _wish_at(self, place: int | None, wish: _Jump | _Loop) -> None:
        if place is None or self._ahead_of_it is None:
            self._wishes.append(wish)
        else:
            self._ahead_of_it.fetch(place, partial(self._wishes.append, wish))

    def end_at(self, frame: int) -> None:
        """Move the end, where that is still possible."""
        self._wishes.append(_End(frame))

    def is_over(self, stream_frame: int) -> bool:
        """Return whether a callback at that stream frame has nothing to send any more."""
        return stream_frame >= self.start_frame + self.end_frame

    def ready(self, stream_frame: int, frames: int) -> bool:
        """Return whether a callback of so many frames would find all it needs."""
        frame = stream_frame - self.start_frame
        # A stop needs no more frames, and must be obeyed where none can be had.
        return self._stop_asked or self._fed >= min(
            frame + frames + self._valve.frames, self.end_frame
        )

    def close(self) -> None:
        """Close the sources' files."""
        if self._ahead_of_it is not None:
            self._ahead_of_it.close()
        self.timeline.close()

    # ------------------------------------------------------------ the feeding thread

    def feed(self, stream_frame: int) -> bool:
        """Render up to `FEED_FRAMES` more; return whether there was room.

        Parameters
        ----------
        stream_frame
            Where the callback is now.

        Returns
        -------
        bool
            False when the ring is as full as it shall be, or the roll is being stopped.
        """
        if self._stop_asked:
            return False
        now = max(0, stream_frame - self.start_frame)
        while self._wishes:
            self._fulfil(self._wishes.popleft(), now)
        self.timeline.forget(now)
        room = self._room(now)
        if room <= 0:
            return False
        block = self._scratch[:room]
        self.timeline.render(self._fed, block)
        self._fade_end(block)
        self._ring.put(self._fed, block)
        self._fed += room
        return True

    def _room(self, now: int) -> int:
        """Return how much to render: what the end fades out of comes in one piece."""
        space, fade_at = now + self._ahead - self._fed, self.length - self._valve.frames
        if self._fed < fade_at:
            return min(FEED_FRAMES, space, fade_at - self._fed)
        left = self.length - self._fed
        return left if left <= space else 0

    def _fade_end(self, block: NDArray[np.float32]) -> None:
        """Fade out the sources that the end of the roll would cut; the others stay as they are."""
        if self._fed + len(block) < self.length:
            return
        for source in self.timeline.sounds_past(self.length):
            block[:, source] *= self._fall[-len(block) :, 0]

    def _fulfil(self, wish: _Jump | _End | _Loop, now: int) -> None:
        """Do what was wished for, if no row that the callback may have reached must change for it."""
        earliest = now + self._margin
        if isinstance(wish, _End):
            if wish.at > now:
                self._move_end(wish.at, earliest)
            return
        at = min(self._fed, earliest)
        if at > self.length - self._valve.frames:
            return
        if isinstance(wish, _Jump):
            self.timeline.jump(at, wish.to)
        else:
            self.timeline.repeat(at, wish.span)
        self._fed = at

    def _move_end(self, wished: int, earliest: int) -> None:
        """Move the end; what fades out of the old one, and into the new one, is rendered again."""
        sooner = wished < self.length
        end = max(wished, earliest + self._valve.frames) if sooner else wished
        again = min(end, self.length) - self._valve.frames
        if end == self.length or (sooner and end > self.length):
            return
        if self._fed > again:
            if again < earliest:
                return
            self.timeline.rewind(again)
            self._fed = again
        self.length = end
