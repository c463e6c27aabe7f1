"""Measures the captures of a pass while they are written, so that little is left at its end."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files.codes import from_bytes
from audio.files.source import SourceFile
from audio.files.wave import DATA_AT, WaveFormat, parse_header
from audio.measure.running import RunningLevels, RunningReturn, window_frames
from audio.vocab.errors import UseError
from audio.vocab.results import PassMeasures, ReturnMeasures

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audio.vocab.work import Follow

_LOOK_AGAIN_S = 0.2
_PIECE_S = 4.0
"""Sound that is read at a time: what memory holds of each file."""


class Following:
    """One pass being measured in a thread of its own, from its making until `finish` or `abandon`.

    Parameters
    ----------
    asked
        Which captures, and the DI beside them. A capture that does not exist yet is waited for.
    """

    def __init__(self, asked: Follow) -> None:
        self._rate = asked.sample_rate
        self._captures = [GrowingCapture(Path(p), rate=asked.sample_rate) for p in asked.paths]
        self._asked = asked
        self._levels = RunningLevels(rate=asked.sample_rate)
        self._closed = threading.Event()
        self._abandoned = False
        self._fault: Exception | None = None
        self._thread = threading.Thread(target=self._run, name="following", daemon=True)
        self._thread.start()

    def finish(self) -> PassMeasures:
        """Measure what is left of the closed captures and return everything.

        Raises what stopped the measuring: `UseError` where a file cannot be read, or is not what
        was asked to be followed.
        """
        self._closed.set()
        self._thread.join()
        if self._fault is not None:
            raise self._fault
        return PassMeasures(
            window_frames=window_frames(rate=self._rate),
            di_levels_dbfs=self._levels.levels_dbfs(),
            returns=tuple(capture.measures() for capture in self._captures),
        )

    def abandon(self) -> None:
        """Stop measuring; what was measured is let go."""
        self._abandoned = True
        self._closed.set()

    def _run(self) -> None:
        try:
            self._measure()
        except Exception as fault:  # noqa: BLE001 - a thread has no caller: `finish` raises it
            self._fault = fault

    def _measure(self) -> None:
        self._measure_di()
        while not self._abandoned:
            # Asked before looking: what is written later than this is not left behind.
            closed = self._closed.is_set()
            came = [capture.take() for capture in self._captures]
            if not any(came):
                if closed:
                    break
                self._closed.wait(_LOOK_AGAIN_S)
        for capture in self._captures:
            capture.insist()

    def _measure_di(self) -> None:
        asked = self._asked
        di = SourceFile(Path(asked.di_path))
        try:
            if di.rate != self._rate:
                raise UseError(
                    f"{di.path} is at {di.rate}, its pass at {self._rate}: they must agree"
                )
            at, piece = 0, round(_PIECE_S * self._rate)
            while at < di.frames and not self._abandoned:
                frames = min(piece, di.frames - at)
                self._levels.feed(di.read(at, frames, channel=asked.di_channel))
                at += frames
        finally:
            di.close()


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

    def insist(self) -> None:
        """Raise `UseError` if this never became a capture."""
        if self._format is None:
            raise UseError(f"{self._path} is no capture of this program: it cannot be measured")

    def measures(self) -> ReturnMeasures:
        """Return what was measured so far."""
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
