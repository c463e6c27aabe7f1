"""What is measured of a pass: its captures as they grow, and the DI beside them.

Loads scipy for the loudness, which takes a second or more.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files.codes import from_bytes
from audio.files.source import SourceFile
from audio.files.wave import DATA_AT, WaveFormat, parse_header
from audio.measure.running import RunningLevels, RunningReturn, window_frames
from audio.vocab.errors import UseError
from audio.vocab.results import PassMeasures, ReturnMeasures
from audio.vocab.work import Follow

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

_PIECE_S = 4.0
"""Sound that is read at a time: what memory holds of each file."""


class PassSound:
    """The files of one pass, and how far they have been measured.

    Parameters
    ----------
    asked
        Which captures, and the DI beside them. A capture that does not exist yet is waited for.
    """

    def __init__(self, asked: Follow) -> None:
        self._asked = asked
        self._levels = RunningLevels(rate=asked.sample_rate)
        self._captures = [GrowingCapture(Path(p), rate=asked.sample_rate) for p in asked.paths]

    def take_di(self) -> Iterator[None]:
        """Measure the DI, pausing after each piece; raise `UseError` if it cannot be read."""
        asked = self._asked
        di = SourceFile(Path(asked.di_path))
        try:
            if di.rate != asked.sample_rate:
                raise UseError(
                    f"{di.path} is at {di.rate}, its pass at {asked.sample_rate}: they must agree"
                )
            piece = round(_PIECE_S * asked.sample_rate)
            for at in range(0, di.frames, piece):
                frames = min(piece, di.frames - at)
                self._levels.feed(di.read(at, frames, channel=asked.di_channel))
                yield
        finally:
            di.close()

    def take_captures(self) -> bool:
        """Measure the next piece of each capture; return whether there was any."""
        came = [capture.take() for capture in self._captures]
        return any(came)

    def measures(self) -> PassMeasures:
        """Return everything; raise `UseError` if one of the captures never became one."""
        return PassMeasures(
            window_frames=window_frames(rate=self._asked.sample_rate),
            di_levels_dbfs=self._levels.levels_dbfs(),
            returns=tuple(capture.measures() for capture in self._captures),
        )


class GrowingCapture:
    """The samples of a capture file as they arrive; its header's sizes lag behind and are not read.

    Parameters
    ----------
    path
        A mono capture that exists, or will.
    rate
        Frames a second it must have.
    """

    def __init__(self, path: Path, *, rate: int) -> None:
        self._path = path
        self._rate = rate
        self._format: WaveFormat | None = None
        self._running = RunningReturn(rate=rate)

    def take(self) -> bool:
        """Measure the next piece; return whether there was one."""
        fmt = self._format = self._format or self._look_at_header()
        if fmt is None:
            return False
        with self._path.open("rb") as file:
            file.seek(DATA_AT + self._running.frames * fmt.frame_bytes)
            data = file.read(round(_PIECE_S * self._rate) * fmt.frame_bytes)
        whole = data[: len(data) // fmt.frame_bytes * fmt.frame_bytes]
        if not whole:
            return False
        self._running.feed(_linear(whole, fmt))
        return True

    def measures(self) -> ReturnMeasures:
        """Return what was measured so far; raise `UseError` if this never became a capture."""
        if self._format is None:
            raise UseError(f"{self._path} is no capture of this program: it cannot be measured")
        return self._running.measures(path=str(self._path))

    def _look_at_header(self) -> WaveFormat | None:
        """Return the format, None while there is no whole header yet."""
        try:
            with self._path.open("rb") as file:
                fmt, _ = parse_header(file.read(DATA_AT))
        except (FileNotFoundError, ValueError):
            return None
        if fmt.channels != 1 or fmt.rate != self._rate:
            raise UseError(
                f"{self._path} has {fmt.channels} channels at {fmt.rate}, "
                f"a pass at {self._rate} is followed in mono captures"
            )
        return fmt


def _linear(data: bytes, fmt: WaveFormat) -> NDArray[np.float64]:
    """Return mono samples, full scale 1.0; what is no number counts as 0."""
    samples = from_bytes(data, fmt)[:, 0]
    if fmt.depth == 24:
        return samples.astype(np.float64) * 2.0**-23
    return np.nan_to_num(samples.astype(np.float64), posinf=0.0, neginf=0.0)
