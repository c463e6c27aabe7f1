"""The samples of a capture file as they arrive."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files.codes import from_bytes
from audio.files.wave import DATA_AT, WaveFormat, parse_header
from audio.vocab.errors import UseError

if TYPE_CHECKING:
    from numpy.typing import NDArray


class GrowingCapture:
    """A capture that is written meanwhile; its header's sizes lag behind and are not read.

    Parameters
    ----------
    path
        A mono capture that exists, or will.
    rate
        Frames a second it must have.
    """

    def __init__(self, path: Path, *, rate: int) -> None:
        self.path = path
        self._rate = rate
        self._format: WaveFormat | None = None

    @property
    def frames(self) -> int:
        """Frames that are there; `UseError` if this is a capture of another kind."""
        fmt = self._format = self._format or self._look_at_header()
        if fmt is None:
            return 0
        return (self.path.stat().st_size - DATA_AT) // fmt.frame_bytes

    def check(self) -> None:
        """Raise `UseError` if this never became a capture."""
        if self._format is None:
            raise UseError(f"{self.path} is no capture of this program: it cannot be measured")

    def read(self, at: int, frames: int) -> NDArray[np.float64]:
        """Return the frames from one on, as many as are there, full scale 1.0."""
        fmt = self._format
        if fmt is None:
            return np.zeros(0)
        with self.path.open("rb") as file:
            file.seek(DATA_AT + at * fmt.frame_bytes)
            data = file.read(frames * fmt.frame_bytes)
        return _linear(data[: len(data) // fmt.frame_bytes * fmt.frame_bytes], fmt)

    def filled(self, at: int, frames: int) -> NDArray[np.float64]:
        """Return (frames,) from one on, silence where there are none."""
        sound = self.read(at, frames)
        return sound if sound.size == frames else np.pad(sound, (0, frames - sound.size))

    def _look_at_header(self) -> WaveFormat | None:
        """Return the format, None while there is no whole header yet."""
        try:
            with self.path.open("rb") as file:
                fmt, _ = parse_header(file.read(DATA_AT))
        except (FileNotFoundError, ValueError):
            return None
        if fmt.channels != 1 or fmt.rate != self._rate:
            raise UseError(
                f"{self.path} has {fmt.channels} channels at {fmt.rate}, "
                f"a pass at {self._rate} is followed in mono captures"
            )
        return fmt


def _linear(data: bytes, fmt: WaveFormat) -> NDArray[np.float64]:
    """Return mono samples, full scale 1.0; what is no number counts as 0."""
    samples = from_bytes(data, fmt)[:, 0]
    if fmt.depth == 24:
        return samples.astype(np.float64) * 2.0**-23
    return np.nan_to_num(samples.astype(np.float64), posinf=0.0, neginf=0.0)
