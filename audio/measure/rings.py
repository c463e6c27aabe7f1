"""How long a sound goes on where the DI has stopped: the ring of amp and room, a reverb, repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CELLS_A_SECOND = 100
"""Levels are of 10 ms."""

FALL_DB = 30.0
"""What has fallen so far is no longer heard as the note; 20 dB would pass over a reverb that begins
there (common practice, no source)."""

_BEFORE = 10
"""Cells before a stop whose mean is what the sound falls from."""
_GRACE = 3
"""Cells in which a hand may damp the strings."""
_REST = 25
"""Cells that a rest has at least."""
_PLAYS_DB = 25.0
"""A stop is of playing that lies so near the loudest 100 ms at least."""
_STOPS_DB = 33.0
"""How far the DI falls, so that what is heard is the chain's: farther than the fall that is waited for."""
_OVER_NOISE_DB = 6.0
"""How far the end of the fall must lie over the noise."""
_STILL = 5
"""Cells at the end of a rest in which it must have fallen already."""
_TINY = 1e-20


@dataclass(frozen=True)
class Stop:
    """One place at which the DI falls silent, in cells."""

    at: int
    """First cell of the rest."""
    end: int
    """The cell behind its last."""


def stops_of(di: Floats) -> tuple[Stop, ...]:
    """Return where a DI stops and then rests.

    Parameters
    ----------
    di
        (cells,) mean square of each 10 ms; zeros behind its end.

    Returns
    -------
    tuple of Stop
        In order; a rest has a quarter of a second at least.
    """
    if di.size < _BEFORE + _GRACE + _REST:
        return ()
    before = _mean(di, _BEFORE)
    loudest = float(np.max(before, initial=0.0))
    if loudest <= _TINY:
        return ()
    found: list[Stop] = []
    at = _BEFORE
    plays = before >= loudest * _ratio(-_PLAYS_DB)
    while at + _GRACE + _REST <= di.size:
        least = before[at - _BEFORE] * _ratio(-_STOPS_DB)
        behind = di[at + _GRACE :]
        if plays[at - _BEFORE] and di[at] < di[at - 1] and np.all(behind[:_REST] <= least):
            loud = np.flatnonzero(behind > least)
            end = at + _GRACE + (int(loud[0]) if loud.size else behind.size)
            found.append(Stop(at, end))
            at = end
        at += 1
    return tuple(found)


def falls_s(sound: Floats, stops: tuple[Stop, ...], *, noise: float) -> tuple[Floats, bool]:
    """Return how long a sound takes to fall after each stop.

    Parameters
    ----------
    sound
        (cells,) its mean square in the cells of the DI.
    stops
        Of the DI.
    noise
        Its mean square where it rests; 0 where nobody knows.

    Returns
    -------
    tuple of NDArray[np.float64] and bool
        Seconds for each stop, not a number where it cannot be told; and whether the noise was in the way
        somewhere.
    """
    smooth = np.convolve(sound, np.full(3, 1.0 / 3.0), mode="same")
    told, hidden = np.full(len(stops), np.nan), False
    for number, stop in enumerate(stops):
        loud = float(np.mean(sound[stop.at - _BEFORE : stop.at]))
        under = loud * _ratio(-FALL_DB)
        if under <= max(noise * _ratio(_OVER_NOISE_DB), _TINY):
            hidden = True
            continue
        over = np.flatnonzero(smooth[stop.at : stop.end] > under)
        fallen = int(over[-1]) + 1 if over.size else 0
        if fallen <= stop.end - stop.at - _STILL:
            told[number] = fallen / CELLS_A_SECOND
    return told, hidden


def _mean(power: Floats, cells: int) -> Floats:
    """Return the mean of each so many cells, the first over the first of them."""
    return np.asarray(np.convolve(power, np.full(cells, 1.0 / cells), mode="valid"))


def _ratio(db: float) -> float:
    return float(10.0 ** (db / 10.0))
