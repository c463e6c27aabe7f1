"""Where notes begin in a DI: the places at which it tells most about time.

Between attacks a guitar is periodic, and one period looks like the next; an attack is a burst that no other
moment repeats. An attack is a hop in which the brightened level stands well over what it was just before
and over the noise (spectral-flux and energy-rise detectors are common practice; thresholds below are ours).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from numpy.typing import NDArray

_HOP_S = 0.004
_BEFORE_HOPS = 7
"""What an attack must rise over: the mean of so many hops before it, with one hop between."""
_RISE_DB = 6.0
_LOUDER_THAN_DB = -45.0
"""Under the loudest hop so far: what is quieter is handling noise, not playing."""
_APART_HOPS = 20
"""80 ms: faster than anybody picks."""
_FORGET = 0.5 ** (_HOP_S / 20.0)
"""The loudest hop is forgotten by half in 20 s, so that one accident does not hide the rest."""
_QUIETEST = 1e-12
"""Power under which there is no playing at all, full scale 1."""


class RunningAttacks:
    """Finds attacks in sound that comes in pieces; pieces of any size give the same result.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._hop = max(1, round(_HOP_S * rate))
        self._rest: NDArray[np.float32] = np.zeros(1, dtype=np.float32)
        self._powers: list[float] = [0.0] * (_BEFORE_HOPS + 1)
        self._hops = 0
        self._loudest = 0.0
        self._best: tuple[int, float] | None = None

    def feed(self, piece: NDArray[np.floating]) -> list[tuple[int, float]]:
        """Take the next (frames,) of the DI; return the attacks now known.

        Each is the frame at which its hop begins, and by how many decibels it rose.
        """
        joined = np.concatenate((self._rest, piece.astype(np.float32, copy=False)))
        hops = (joined.size - 1) // self._hop
        bright = np.diff(joined[: hops * self._hop + 1]).reshape(hops, self._hop)
        self._rest = joined[hops * self._hop :].copy()
        powers = np.einsum("ij,ij->i", bright, bright).astype(np.float64) / self._hop
        return self._found(powers)

    def finish(self) -> list[tuple[int, float]]:
        """Return the attack that was still waiting for a stronger one beside it."""
        last, self._best = self._best, None
        return [] if last is None else [(last[0] * self._hop, last[1])]

    def _found(self, powers: NDArray[np.float64]) -> list[tuple[int, float]]:
        rises = self._rises(powers)
        found = []
        for index in np.flatnonzero(rises >= _RISE_DB):
            hop, rise = self._hops + int(index), float(rises[index])
            if self._best is not None and hop - self._best[0] >= _APART_HOPS:
                found.append((self._best[0] * self._hop, self._best[1]))
                self._best = None
            if self._best is None or rise > self._best[1]:
                self._best = (hop, rise)
        self._hops += powers.size
        return found

    def _rises(self, powers: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return by how many decibels each hop stands over what was before it; 0 where it is too quiet."""
        if not powers.size:
            return powers
        joined = np.concatenate((self._powers, powers))
        self._powers = joined[-(_BEFORE_HOPS + 1) :].tolist()
        before = sliding_window_view(joined[:-2], _BEFORE_HOPS).mean(axis=1)
        loudest = self._follow_loudest(powers)
        floor = np.maximum(loudest * 10.0 ** (_LOUDER_THAN_DB / 10.0), _QUIETEST)
        rises = 10.0 * np.log10((powers + _QUIETEST) / (before + floor / 10.0))
        return np.where(powers >= floor, rises, 0.0)

    def _follow_loudest(self, powers: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the loudest hop so far at each, older ones forgotten bit by bit."""
        if not powers.size:
            return powers
        fade = _FORGET ** np.arange(powers.size + 1)
        # A running maximum of what would be left: divide the fade out, accumulate, put it back.
        flat = np.concatenate(([self._loudest], powers)) / fade
        followed = np.maximum.accumulate(flat) * fade
        self._loudest = float(followed[-1])
        return np.asarray(followed[1:])
