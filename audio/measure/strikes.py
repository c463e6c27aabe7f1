"""What is kept of a DI and its recording: a stretch around each attack, so many at most.

Memory stays bounded however long the music is: when there are too many strikes, the time between two that
are kept doubles, and the one that rose most stays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.whitened import Geometry, lowered

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_STRIKES = 384
_CLOSEST_S = 0.08


@dataclass(frozen=True, kw_only=True)
class Strike:
    """One attack."""

    at_frame: int
    """Of the DI."""
    rise_db: float
    di: NDArray[np.float32]
    """(stretch,) · the DI around it."""
    heard: NDArray[np.float32]
    """(long,) · the recording there."""
    recording: NDArray[np.complex64]
    """(size // 2 + 1,) · its spectrum, low rate."""
    offset: int
    """Frame of the recording less frame of the DI at which the middle of the search lies, a multiple of
    the geometry's step."""


class Strikes:
    """Strikes in the order of their frames, thinned out where they become too many.

    Parameters
    ----------
    shape
        Of their stretches.
    """

    def __init__(self, shape: Geometry) -> None:
        self._shape = shape
        self._slot = round(_CLOSEST_S * shape.rate)
        self._kept: list[Strike] = []

    def wanted(self, at_frame: int, rise_db: float) -> bool:
        """Return whether a strike there would be kept: the stretches need not be cut otherwise."""
        last = self._kept[-1] if self._kept else None
        same = last is not None and last.at_frame // self._slot == at_frame // self._slot
        return not (same and last is not None and last.rise_db >= rise_db)

    def add(
        self,
        at_frame: int,
        rise_db: float,
        *,
        di: NDArray[np.floating],
        recording: NDArray[np.floating],
        offset: int,
    ) -> None:
        """Keep a strike.

        Parameters
        ----------
        at_frame
            Where it is in the DI.
        rise_db
            By how much it rises there.
        di
            (stretch,) · the DI from `before` frames before it.
        recording
            (long,) · the recording from `offset` − `reach` · `step` frames beside that.
        offset
            As in `Strike`.
        """
        strike = Strike(
            at_frame=at_frame,
            rise_db=rise_db,
            di=di.astype(np.float32),
            heard=recording.astype(np.float32),
            recording=lowered(recording, self._shape),
            offset=offset,
        )
        if self._kept and self._kept[-1].at_frame // self._slot == at_frame // self._slot:
            self._kept.pop()
        self._kept.append(strike)
        if len(self._kept) > 2 * MOST_STRIKES:
            self._thin()

    def kept(self) -> tuple[Strike, ...]:
        """Return at most `MOST_STRIKES` of them, in the order of their frames."""
        while len(self._kept) > MOST_STRIKES:
            self._thin()
        return tuple(self._kept)

    def _thin(self) -> None:
        self._slot *= 2
        best: dict[int, Strike] = {}
        for strike in self._kept:
            slot = strike.at_frame // self._slot
            if slot not in best or strike.rise_db > best[slot].rise_db:
                best[slot] = strike
        self._kept = list(best.values())
