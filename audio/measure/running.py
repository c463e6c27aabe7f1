"""What a pass's sound is, measured while it comes in; pieces of any size give the same result.

Sound is gathered into whole hops of 100 ms before anything is measured, so how it was cut into
pieces cannot show. Memory grows by some twenty numbers a second, nothing else.
"""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.clipping import ClippedRuns
from audio.measure.levels import window_levels_dbfs
from audio.measure.loudness import RunningLoudness
from audio.measure.rests import RunningRests
from audio.vocab.results import ReturnMeasures
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


def window_frames(*, rate: int) -> int:
    """Return the frames of one level window, 50 ms."""
    return round(rate / 20)


class RunningLevels:
    """RMS of each window of 50 ms.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._window = window_frames(rate=rate)
        self._gathered = Gathered(self._window)
        self._levels = array("d")

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound, any number of them."""
        self._levels.extend(window_levels_dbfs(self._gathered.add(piece), window=self._window))

    def levels_dbfs(self) -> tuple[float, ...]:
        """Return the level of each whole window so far, and of what is left after them."""
        rest = self._gathered.rest
        last = window_levels_dbfs(rest, window=rest.size) if rest.size else ()
        return (*self._levels, *last)


class RunningReturn:
    """Everything `ReturnMeasures` tells of one return.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._hop = 2 * window_frames(rate=rate)
        self._gathered = Gathered(self._hop)
        self._frames = 0
        self._peak = 0.0
        self._clipped = ClippedRuns()
        self._levels = RunningLevels(rate=rate)
        self._loudness = RunningLoudness(rate=rate)
        self._rests = RunningRests(window=window_frames(rate=rate), rate=rate)

    @property
    def frames(self) -> int:
        """Frames taken so far."""
        return self._frames

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound, any number of them, linear, full scale 1.0."""
        level = np.abs(piece)
        self._peak = max(self._peak, float(np.max(level, initial=0.0)))
        self._clipped.feed(level)
        self._frames += piece.shape[0]
        self._levels.feed(piece)
        self._rests.feed(piece)
        hops = self._gathered.add(piece)
        if hops.size:
            self._loudness.feed(hops.reshape(-1, self._hop))

    def measures(
        self, *, path: str, di_levels_dbfs: Sequence[float] | None = None
    ) -> ReturnMeasures:
        """Return what was measured so far.

        Parameters
        ----------
        path
            The capture's.
        di_levels_dbfs
            Level of the DI in the same windows: where it rests. Without, nothing is told of rests.

        Returns
        -------
        ReturnMeasures
            All that one return tells by itself; nothing of copies and of the reference.
        """
        runs, first = self._clipped.told()
        levels = self._levels.levels_dbfs()
        rest = None if di_levels_dbfs is None else self._rests.rest(di_levels_dbfs, levels)
        hum = rest.hum if rest else None
        return ReturnMeasures(
            path=path,
            frames=self._frames,
            peak_dbfs=db_from_ratio(self._peak),
            clipped_runs=runs,
            first_clipped=first,
            loudness_lufs=self._loudness.lufs(),
            levels_dbfs=levels,
            rest_noise_dbfs=rest.noise_dbfs if rest else None,
            rest_hum_hz=hum.hz if hum else None,
            rest_hum_dbfs=hum.dbfs if hum else None,
        )


class Gathered:
    """Pieces of any size in, whole multiples of `frames` out."""

    def __init__(self, frames: int) -> None:
        self._frames = frames
        self.rest = np.zeros(0)

    def add(self, piece: NDArray[np.floating]) -> NDArray[np.float64]:
        """Take the next (frames,) of sound; return what is whole by now."""
        together = np.concatenate((self.rest, piece.astype(np.float64, copy=False)))
        whole = together.shape[0] // self._frames * self._frames
        self.rest = together[whole:].copy()
        return together[:whole]
