"""Where what a DI holds stops dead inside the playing: a gap that was left, a gate or a mute set hard.

Hands and strings take milliseconds to fall silent, an edit takes one sample. An edit with a fade of two
milliseconds or more is no dead stop.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.levels import rms_dbfs
from audio.vocab.readiness import DeadStop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

_CELLS = 4000
"""Levels a second: each of a quarter of a millisecond."""
_SIDE = 40
"""Levels on either side that are compared: 10 ms; a shorter gap is not told."""
_DROP = 100.0
"""Power by which it must fall, 20 dB."""
_TO_THE_END = 4
"""Levels before the stop, 1 ms, in which what stops is still there, at a tenth of its power at least."""
_BACK = 4.0
"""What is left may peak so far over the largest of its first 10 ms before the gap is at its end."""
_LEAST = 1e-14
"""Mean square, −140 dBFS: under it nothing is there that could stop."""
_SURE, _LIKELY = 0.99, 0.9
"""Confidence for digital silence and for quieter noise. Set by judgement: in 13 minutes of playing without
a stop, none of it with digital silence, one was told, of quieter noise."""


def find_dead_stops(samples: NDArray[np.float32], *, rate: int) -> tuple[DeadStop, ...]:
    """Find where sound stops dead, to begin again later.

    Parameters
    ----------
    samples
        (frames,) · linear, full scale 1.0 · the whole DI, mono, any length.
    rate
        Frames a second.

    Returns
    -------
    tuple[DeadStop, ...]
        By frame, of 10 ms at least; not the silence at the file's ends.
    """
    cell = max(1, rate // _CELLS)
    found: list[DeadStop] = []
    done = 0
    for at in _drops(_power(samples, cell)):
        if at * cell < done:
            continue
        stop = _stop(samples, at * cell, cell)
        if stop is not None:
            found.append(stop)
            done = stop.frame + stop.frames
    return tuple(found)


def _power(samples: Singles, cell: int) -> Floats:
    """Return the mean square of each cell, (cells,)."""
    rows = samples[: samples.shape[0] // cell * cell].reshape(-1, cell)
    return np.asarray(np.einsum("cf,cf->c", rows, rows) / cell, dtype=np.float64)


def _drops(power: Floats) -> list[int]:
    """Return the cells from which on 10 ms are 20 dB quieter than the 10 ms before, one each."""
    if power.size < 2 * _SIDE + 2:
        return []
    total = np.concatenate(([0.0], np.cumsum(power)))
    means = np.maximum(total[_SIDE:] - total[:-_SIDE], 0.0) / _SIDE
    # A cell is left out: the stop may lie within it. Sums of many cells leave some rounding behind.
    before, after = means[: -_SIDE - 1], means[_SIDE + 1 :]
    falls = (before > _LEAST) & (before > 0.9 * _DROP * after)
    at = np.flatnonzero(falls) + _SIDE
    return [int(one) for one in at[_are_dead(power, at)]]


def _are_dead(power: Floats, at: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Return of which cells what was there is there up to them, and gone behind them.

    Parameters
    ----------
    power
        (cells,) · mean square.
    at
        (places,) · at least `_SIDE` cells lie before each, and one more behind.

    Returns
    -------
    NDArray[np.bool_]
        (places,).
    """

    def cells(first: int, after: int) -> Floats:
        return np.asarray(power[at[:, None] + np.arange(first, after)])

    before = cells(-_SIDE, 0)
    usual = np.median(before, axis=1)
    left = np.mean(cells(1, _SIDE + 1), axis=1)
    last = np.mean(cells(-_TO_THE_END, 0), axis=1)
    still = np.max(cells(-2 * _TO_THE_END, 0), axis=1)
    at_once = np.mean(cells(1, _TO_THE_END + 1), axis=1)
    gone = (usual > _DROP * left) & (usual > 0.5 * _DROP * at_once)
    # The largest of 2 ms, too: of a low note one may lie near where the wave crosses zero.
    usually = np.maximum(usual, np.mean(before, axis=1))
    return np.asarray(gone & (last > 0.1 * usually) & (still > 0.5 * usually))


def _stop(samples: Singles, near: int, cell: int) -> DeadStop | None:
    """Return the stop that lies at a cell's frame or in the cells beside it; None at the file's end."""
    side = _SIDE * cell
    clear = near + 2 * cell
    offset = float(np.mean(samples[clear : clear + side - 2 * cell]))
    limit = _BACK * float(np.max(np.abs(samples[clear : clear + side - 2 * cell] - offset)))
    low = near - 2 * cell
    loud = np.flatnonzero(np.abs(samples[low:clear] - offset) > limit)
    if not loud.size:
        return None
    start = low + int(loud[-1]) + 1
    end = _next_loud(samples, start, offset, limit)
    if end is None or end - start < side:
        return None
    after = rms_dbfs(samples[start:end])
    return DeadStop(
        frame=start,
        frames=end - start,
        before_dbfs=rms_dbfs(samples[max(start - side, 0) : start]),
        after_dbfs=after,
        confidence=_LIKELY if np.any(samples[start:end]) else _SURE,
    )


def _next_loud(samples: Singles, start: int, offset: float, limit: float) -> int | None:
    """Return the first frame from `start` on that is over the limit; None where none is."""
    for low in range(start, samples.shape[0], 65_536):
        over = np.abs(samples[low : low + 65_536] - offset) > limit
        if np.any(over):
            return low + int(np.argmax(over))
    return None
