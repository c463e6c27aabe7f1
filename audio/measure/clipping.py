"""Where a sound is clipped: samples at full scale, several in a row."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.levels import FULL_SCALE
from audio.vocab.results import ClippedRun

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHORTEST_RUN = 3
"""Samples at full scale in a row that count as clipped: fewer can be music that just reaches it
(common practice, no source)."""

MOST_TOLD = 100
"""Clipped runs whose place is told; all are counted."""


class ClippedRuns:
    """Runs of samples at full scale, also those that cross from one piece to the next."""

    def __init__(self) -> None:
        self._count = 0
        self._first: list[ClippedRun] = []
        self._open_at = 0
        self._open_frames = 0
        self._frames = 0

    def feed(self, level: NDArray[np.floating]) -> None:
        """Take the absolute values of the next (frames,) of sound, any number of them."""
        at_frame, full = self._frames, level >= FULL_SCALE
        self._frames += level.size
        if not full.size or not (self._open_frames or np.any(full)):
            return
        edges = np.diff(np.concatenate(([False], full, [False])).astype(np.int8))
        starts = [int(s) for s in np.flatnonzero(edges == 1)]
        ends = [int(e) for e in np.flatnonzero(edges == -1)]
        if self._open_frames and not full[0]:
            self._close()
        for start, end in zip(starts, ends, strict=True):
            if not self._open_frames:
                self._open_at = at_frame + start
            self._open_frames += end - start
            if end < full.size:
                self._close()

    def told(self) -> tuple[int, tuple[ClippedRun, ...]]:
        """Return how many runs there are, one still open included, and the first of them."""
        count, first = self._count, list(self._first)
        if self._open_frames >= SHORTEST_RUN:
            count += 1
            first.append(ClippedRun(at_frame=self._open_at, frames=self._open_frames))
        return count, tuple(first[:MOST_TOLD])

    def _close(self) -> None:
        if self._open_frames >= SHORTEST_RUN:
            self._count += 1
            if len(self._first) < MOST_TOLD:
                self._first.append(ClippedRun(at_frame=self._open_at, frames=self._open_frames))
        self._open_frames = 0
