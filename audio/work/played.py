"""The DI as it was played: whole, or a stretch of it that was faded where it was cut."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audio.files.source import SourceFile
from audio.measure.fades import rise
from audio.vocab.errors import UseError
from audio.vocab.requests import Follow

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_CUT_FADE_S = 0.010
"""What the engine fades over where it cuts a stretch out of a file (`audio.engine.fades`)."""


class PlayedDi:
    """What of the DI lies beside the captures of a pass, the same frames of both; close it after use.

    Parameters
    ----------
    asked
        Which file, which channel, which stretch. `UseError` if it cannot be read, has another rate, or the
        stretch does not lie in it.
    """

    def __init__(self, asked: Follow) -> None:
        self._file = SourceFile(Path(asked.di_path))
        self._channel, self._from = asked.di_channel, asked.di_from_frame
        there = self._file.frames - self._from
        self.frames = there if asked.di_frames is None else min(asked.di_frames, there)
        """How many frames were played."""
        if problem := self._problem(asked):
            self.close()
            raise UseError(problem)
        fade = rise(round(_CUT_FADE_S * asked.sample_rate))
        self._fade_in = fade if self._from > 0 else None
        self._fade_out = fade[::-1] if self.frames < there else None

    def read(self, at: int, frames: int) -> NDArray[np.float64]:
        """Return (frames,) from one on, counted from the first that was played; zeros behind the last."""
        there = min(max(self.frames - at, 0), frames)
        sound = self._file.read(self._from + at, frames, channel=self._channel)
        sound[there:] = 0.0
        if self._fade_in is not None:
            _weigh(sound, self._fade_in, -at)
        if self._fade_out is not None:
            _weigh(sound, self._fade_out, self.frames - self._fade_out.size - at)
        return sound

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def _problem(self, asked: Follow) -> str:
        if self._file.rate != asked.sample_rate:
            return (
                f"{self._file.path} is at {self._file.rate}, its pass at {asked.sample_rate}: they must"
                " agree"
            )
        if self.frames <= 0:
            return f"{self._file.path} is shorter than it was when the pass was played; restore it"
        return ""


def _weigh(sound: NDArray[np.float64], weights: NDArray[np.float64], at: int) -> None:
    """Multiply weights into a stretch where they lie, `at` frames after its first; outside it stays."""
    first, last = max(at, 0), min(at + weights.size, sound.size)
    if first < last:
        sound[first:last] *= weights[first - at : last - at]
