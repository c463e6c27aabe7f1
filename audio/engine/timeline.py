"""The timeline of a roll: its sources read from files, its loop and its jumps.

Fills the play ring from a thread; the callback never comes here.
"""

from __future__ import annotations

from bisect import bisect_right
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audio.files.source import SourceFile
from audio.vocab.errors import UseError
from audio.vocab.messages import Source, Span
from audio.vocab.units import ratio_from_db

CODES = float(1 << 23)
"""24-bit codes up to full scale."""


class Voice:
    """One source of a roll: a stretch of one channel of a file, placed on the timeline.

    Parameters
    ----------
    source
        What to play, from where, at which gain.
    rate
        Frames a second of the stream; a file of another rate is refused.
    to_codes
        Round to 24-bit codes: true on integer devices.

    Raises
    ------
    UseError
        If the file cannot be read, has another rate, or lacks the channel.
    """

    def __init__(self, source: Source, *, rate: int, to_codes: bool) -> None:
        self._file = SourceFile(Path(source.path))
        if self._file.rate != rate:
            raise UseError(
                f"{source.path} is recorded at {self._file.rate} Hz and the stream runs at {rate} Hz;"
                " export the file at the stream's rate"
            )
        if source.channel >= self._file.channels:
            raise UseError(
                f"{source.path} has {self._file.channels} channels; channel {source.channel + 1} was"
                " asked for"
            )
        self._source = source
        self._gain = ratio_from_db(source.gain_db)
        self._to_codes = to_codes
        there = max(0, self._file.frames - source.from_frame)
        self.frames = there if source.frames is None else min(source.frames, there)
        self.clipped = 0

    @property
    def end(self) -> int:
        """Timeline frame after its last."""
        return self._source.at_frame + self.frames

    def render(self, timeline: int, out: NDArray[np.float32]) -> None:
        """Write what sounds from `timeline` on into `out`, shape (frames,)."""
        first = max(timeline, self._source.at_frame)
        last = min(timeline + len(out), self.end)
        out[:] = 0.0
        if first >= last:
            return
        at = self._source.from_frame + first - self._source.at_frame
        samples = self._file.read(at, last - first, channel=self._source.channel)
        out[first - timeline : last - timeline] = self._to_converter(samples)

    def _to_converter(self, samples: NDArray[np.float64]) -> NDArray[np.float64]:
        values = samples if self._gain == 1.0 else samples * self._gain
        top = 1.0
        if self._to_codes:
            values = np.rint(values * CODES) / CODES
            top = (CODES - 1.0) / CODES
        over = int(np.count_nonzero((values > top) | (values < -1.0)))
        if over:
            self.clipped += over
            values = np.clip(values, -1.0, top)
        return values

    def close(self) -> None:
        """Close the file."""
        self._file.close()


class Timeline:
    """Where the feed stands, and what comes next: straight on, around the loop, or a jump.

    Positions are roll frames; the timeline runs with them until a loop or a jump parts the two.

    Parameters
    ----------
    voices
        The sources.
    loop
        Stretch that repeats, or None.
    splice_frames
        Length of the equal-power fade at a loop's end and at a jump.
    """

    def __init__(self, voices: tuple[Voice, ...], *, loop: Span | None, splice_frames: int) -> None:
        self._voices = voices
        self.loop = loop
        self._splice = splice_frames
        self.position = 0
        self._fading_from: int | None = None
        self._faded = 0
        self._marks: list[tuple[int, int]] = [(0, 0)]

    @property
    def clipped(self) -> int:
        """Frames that had to be clipped to full scale so far."""
        return sum(voice.clipped for voice in self._voices)

    def render(self, frame: int, out: NDArray[np.float32]) -> None:
        """Fill `out` (frames, sources) for roll frame `frame` on, and move the position on."""
        done = 0
        while done < len(out):
            step = self._step(len(out) - done)
            self._fill(out[done : done + step])
            self.position += step
            done += step
            loop = self.loop
            if loop is not None and self.position == loop.end:
                self._move(frame + done, loop.start)

    def _step(self, wanted: int) -> int:
        if self._fading_from is not None:
            wanted = min(wanted, self._splice - self._faded)
        loop = self.loop
        if loop is not None and self.position < loop.end:
            wanted = min(wanted, loop.end - self.position)
        return wanted

    def _fill(self, out: NDArray[np.float32]) -> None:
        self._raw(self.position, out)
        if self._fading_from is None:
            return
        before = np.empty_like(out)
        self._raw(self._fading_from, before)
        angle = (np.arange(self._faded, self._faded + len(out)) + 0.5) * (np.pi / 2 / self._splice)
        out *= np.sin(angle).astype(np.float32)[:, None]
        out += before * np.cos(angle).astype(np.float32)[:, None]
        self._faded += len(out)
        self._fading_from += len(out)
        if self._faded >= self._splice:
            self._fading_from = None

    def _raw(self, timeline: int, out: NDArray[np.float32]) -> None:
        if not self._voices:
            out.fill(0.0)
        column = np.empty(len(out), dtype=np.float32)
        for index, voice in enumerate(self._voices):
            voice.render(timeline, column)
            out[:, index] = column

    def _move(self, frame: int, to: int) -> None:
        if self._splice:
            self._fading_from, self._faded = self.position, 0
        self.position = to
        self._marks.append((frame, to))

    def jump(self, frame: int, to: int) -> None:
        """Continue at timeline frame `to` from roll frame `frame` on, which may be fed already."""
        self.position = self.at(frame)
        self._marks = [mark for mark in self._marks if mark[0] < frame] or [(0, 0)]
        self._move(frame, to)

    def at(self, frame: int) -> int:
        """Return the timeline frame that roll frame `frame` plays."""
        marks = self._marks
        since, timeline = marks[max(0, bisect_right(marks, (frame, 1 << 62)) - 1)]
        return timeline + frame - since

    def forget(self, frame: int) -> None:
        """Drop what is only needed to answer `at` for frames before `frame`."""
        while len(self._marks) > 1 and self._marks[1][0] <= frame:
            self._marks.pop(0)

    def close(self) -> None:
        """Close all files."""
        for voice in self._voices:
            voice.close()
