"""One source of a roll, read from its file: trimmed, rounded, faded where it was cut out of music."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audio.engine.aside import AsideFile
from audio.engine.fades import fade_frames, falling, rising
from audio.files.source import SourceFile
from audio.vocab.errors import UseError
from audio.vocab.messages import Source
from audio.vocab.units import ratio_from_db

CODES = float(1 << 23)
"""24-bit codes up to full scale."""

MOST_GAIN_DB = 120.0
"""More than from the noise of a converter to full scale is a mistake."""


class UnfitError(UseError):
    """A source holds what must not be sent; found before a frame of it is handed to the device."""


class Voice:
    """A stretch of one channel of a file, placed on the timeline.

    How a file begins and ends is its own affair: a DI that is played whole leaves bit for bit as it is,
    even where it starts or stops inside a waveform. A stretch that is cut out of a file (`from_frame`,
    `frames`, a start before the roll's) fades in and out where it was cut.

    Parameters
    ----------
    source
        What to play, from where, at which gain.
    rate
        Frames a second of the stream; a file of another rate is refused.
    to_codes
        Round to 24-bit codes: true on integer devices.
    aside
        Whether it plays beside what is sent and may not hold it up; see `audio.engine.aside`.
    paced
        Whether the device runs by a clock.

    Raises
    ------
    UseError
        If the file cannot be read, has another rate, or lacks the channel.
    """

    def __init__(
        self,
        source: Source,
        *,
        rate: int,
        to_codes: bool,
        aside: bool = False,
        paced: bool = True,
    ) -> None:
        self._file: SourceFile | AsideFile = SourceFile(Path(source.path))
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
        self.path = source.path
        self.reaches_send = source.reaches_send
        self.limit_dbfs = source.limit_dbfs
        self.start = max(0, source.at_frame)
        """Timeline frame of its first."""
        self.clipped = 0
        self._channel = source.channel
        self._gain = _gain(source.gain_db)
        self._to_codes = to_codes
        early = self.start - source.at_frame
        self._from = source.from_frame + early
        there = max(0, self._file.frames - self._from)
        self.frames = there if source.frames is None else min(source.frames - early, there)
        fade = fade_frames(rate)
        self._fade_in = rising(fade)[:, 0] if self._from > 0 else None
        self._fade_out = falling(fade)[:, 0] if self.frames < there else None
        if aside:
            self._file = AsideFile(self._file, channel=self._channel, rate=rate, paced=paced)

    @property
    def silent_from(self) -> int | None:
        """Timeline frame from which it was silent for a while, as its file did not come in time."""
        missed = self._file.silent_from if isinstance(self._file, AsideFile) else None
        return None if missed is None else self.start + missed - self._from

    @property
    def end(self) -> int:
        """Timeline frame after its last."""
        return self.start + self.frames

    def reads(self, timeline: int, frames: int) -> tuple[int, int]:
        """Return which frames of its file sound in a stretch of the timeline: the first, and how many."""
        first = max(timeline, self.start)
        last = min(timeline + frames, self.end)
        return self._from + first - self.start, max(0, last - first)

    def render(self, timeline: int, out: NDArray[np.float32]) -> None:
        """Write what sounds from `timeline` on into `out`, shape (frames,).

        `UnfitError` if a sample is no number.
        """
        first = max(timeline, self.start)
        last = min(timeline + len(out), self.end)
        out[:] = 0.0
        if first >= last:
            return
        at = self._from + first - self.start
        samples = self._file.read(at, last - first, channel=self._channel)
        sound = out[first - timeline : last - timeline]
        sound[:] = self._to_converter(self._checked(samples, at))
        self._fade(sound, first - self.start)

    def _checked(self, samples: NDArray[np.float64], at: int) -> NDArray[np.float64]:
        """Refuse what is no number: times a gain of zero it would be none either, on every output."""
        good = np.isfinite(samples)
        if not good.all():
            frame = at + int(np.argmin(good))
            raise UnfitError(f"{self.path} holds a sample that is no number, at frame {frame}")
        return samples

    def _fade(self, sound: NDArray[np.float32], at: int) -> None:
        """Fade in and out where the stretch was cut; `at` counts from its first frame."""
        if self._fade_in is not None and at < len(self._fade_in):
            table = self._fade_in[at : at + len(sound)]
            sound[: len(table)] *= table
        if self._fade_out is None:
            return
        begins = self.frames - len(self._fade_out)
        skip = max(0, begins - at)
        if skip < len(sound):
            row = max(0, at + skip - begins)
            table = self._fade_out[row : row + len(sound) - skip]
            sound[skip : skip + len(table)] *= table

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


def _gain(gain_db: float) -> float:
    if not gain_db <= MOST_GAIN_DB:  # NaN is not either
        raise UseError(f"a gain of {gain_db:g} dB was asked for; at most {MOST_GAIN_DB:g} dB is")
    return ratio_from_db(gain_db)
