"""The timeline of a roll: its sources, its loop and its jumps, as roll frames ask for them.

Fills the play ring from a thread; the callback never comes here. What was rendered may be rendered
again: everything follows from the marks, which say at which roll frame the timeline went elsewhere.
"""

from __future__ import annotations

from bisect import bisect_right

import numpy as np
from numpy.typing import NDArray

from audio.engine.mix import weights
from audio.engine.voice import CODES, UnfitError, Voice
from audio.vocab.messages import Span
from audio.vocab.units import db_from_ratio, ratio_from_db


class Timeline:
    """What plays at each roll frame: straight on, around the loop, or elsewhere after a jump.

    Positions are roll frames; the timeline runs with them until a loop or a jump parts the two. Both
    are joined by a crossfade, also where one falls into the crossfade of another.

    Parameters
    ----------
    voices
        The sources.
    loop
        Stretch that repeats, longer than a splice, or None.
    splice_frames
        Length of the equal-power fade at a loop's end and at a jump, at least 1.
    start
        Timeline frame that roll frame 0 plays.
    """

    def __init__(
        self,
        voices: tuple[Voice, ...],
        *,
        loop: Span | None,
        splice_frames: int,
        start: int = 0,
    ) -> None:
        self._voices = voices
        self.loop = loop
        self.splice_frames = splice_frames
        self._out_weights, self._in_weights = weights(splice_frames, "equal power")
        self._limited = [i for i, voice in enumerate(voices) if voice.limit_dbfs is not None]
        limits = [voice.limit_dbfs for voice in voices if voice.limit_dbfs is not None]
        self._limit_dbfs = min(limits, default=0.0)
        # One value, replaced as a whole: other threads ask where the timeline is.
        self._marks: tuple[tuple[int, int], ...] = ((0, start),)

    @property
    def clipped(self) -> int:
        """Frames of what may be sent that had to be clipped to full scale so far."""
        return sum(voice.clipped for voice in self._voices if voice.reaches_send)

    def silent(self) -> tuple[str, int] | None:
        """Return the file of a cue that did not come in time, and from which timeline frame on."""
        gaps = [(v.silent_from, v.path) for v in self._voices if v.silent_from is not None]
        return (min(gaps)[1], min(gaps)[0]) if gaps else None

    def render(self, frame: int, out: NDArray[np.float32]) -> None:
        """Fill `out` (frames, sources) for roll frame `frame` on, which lies behind every mark.

        `UnfitError` if that holds what must not be sent: no numbers, or more than its limit. Sources
        with a limit keep the smallest of them together.
        """
        done = 0
        while done < len(out):
            at = frame + done
            position = self.at(at)
            step = self._step(position, len(out) - done)
            self._sound(len(self._marks) - 1, at, out[done : done + step])
            done += step
            loop = self.loop
            if loop is not None and position + step == loop.end:
                self._marks = (*self._marks, (at + step, loop.start))
        self._keep_limit(out)

    def _step(self, position: int, wanted: int) -> int:
        loop = self.loop
        if loop is not None and position < loop.end:
            return min(wanted, loop.end - position)
        return wanted

    def _sound(self, mark: int, frame: int, out: NDArray[np.float32]) -> None:
        """Fill `out` with what plays since a mark, and what the marks before it still fade out of."""
        since, to = self._marks[mark]
        fading = min(len(out), since + self.splice_frames - frame) if mark else 0
        before = np.empty_like(out[: max(0, fading)])
        if fading > 0:
            self._sound(mark - 1, frame, before)  # first: then files go on from where they end here
        self._raw(to + frame - since, out)
        if fading > 0:
            rows = slice(frame - since, frame - since + fading)
            out[:fading] *= self._in_weights[rows]
            out[:fading] += before * self._out_weights[rows]

    def _raw(self, timeline: int, out: NDArray[np.float32]) -> None:
        if not self._voices:
            out.fill(0.0)
        column = np.empty(len(out), dtype=np.float32)
        for index, voice in enumerate(self._voices):
            voice.render(timeline, column)
            out[:, index] = column

    def _keep_limit(self, out: NDArray[np.float32]) -> None:
        if not self._limited:
            return
        peak = float(np.abs(out[:, self._limited]).sum(axis=1).max(initial=0.0))
        # Half a code over: a file written exactly at its limit was rounded to codes.
        if peak > ratio_from_db(self._limit_dbfs) + 0.5 / CODES:
            path = self._voices[self._limited[0]].path
            raise UnfitError(
                f"{path} reaches {db_from_ratio(peak):.1f} dBFS, over its limit of"
                f" {self._limit_dbfs:.1f} dBFS"
            )

    def jump(self, frame: int, to: int) -> None:
        """Continue at timeline frame `to` from roll frame `frame` on, which may be rendered already."""
        kept = tuple(mark for mark in self._marks if mark[0] < frame)
        self._marks = (*kept, (frame, to)) if kept else ((0, to),)

    def repeat(self, frame: int, span: Span | None) -> None:
        """Repeat another stretch from roll frame `frame` on, or none; it may be rendered already.

        A timeline that is not inside the stretch by then goes on at its start.
        """
        self.rewind(frame)
        self.loop = span
        if span is not None and not span.start <= self.at(frame) < span.end:
            self.jump(frame, span.start)

    def rewind(self, frame: int) -> None:
        """Forget where the loop led behind roll frame `frame`: it is rendered again from there."""
        self._marks = tuple(mark for mark in self._marks if mark[0] <= frame)

    def at(self, frame: int) -> int:
        """Return the timeline frame that roll frame `frame` plays."""
        marks = self._marks
        since, timeline = marks[max(0, bisect_right(marks, (frame, 1 << 62)) - 1)]
        return timeline + frame - since

    def sounds_past(self, end: int) -> list[int]:
        """Return the sources that would go on at roll frame `end`, where everything before is rendered.

        A source whose last frame is the one before is not among them: how a file ends is its own affair.
        """
        position = self.at(end - 1) + 1
        before = [mark for mark in self._marks if mark[0] < end]
        if len(before) > 1 and before[-1][0] + self.splice_frames > end:
            return list(range(len(self._voices)))
        return [i for i, one in enumerate(self._voices) if one.start < position < one.end]

    def forget(self, frame: int) -> None:
        """Drop what only frames before `frame` need."""
        marks, first = self._marks, 0
        while first + 1 < len(marks) and marks[first + 1][0] + self.splice_frames <= frame:
            first += 1
        if first:
            self._marks = marks[first:]

    def close(self) -> None:
        """Close all files."""
        for voice in self._voices:
            voice.close()
