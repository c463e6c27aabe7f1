"""The first and the last frames of a DI: silence, a step into or out of the sound, a fade."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.levels import rms_dbfs
from audio.vocab.readiness import Edge
from audio.vocab.units import SILENCE_DBFS, db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

AUDIBLE = 2.0**-16
"""Sample value from which on something can be heard, −96 dBFS: half a code of 16 bits (common practice, no
source)."""
_BESIDE_S = 0.010
_CELLS = 2000
"""Levels a second that a fade is looked for in."""
_LENGTHS_S = np.geomspace(0.001, 1.0, 61)
_FADES = 0.5
"""What a straight fade may leave of the levels' spread, over what no fade leaves."""
_BEGINS = 0.35
"""Level in the first eighth of a fade over that behind it, at most: a straight line has 0.07."""


def find_edges(samples: NDArray[np.float32], *, rate: int) -> tuple[Edge, Edge]:
    """Measure how a DI begins and ends.

    Parameters
    ----------
    samples
        (frames,) · linear, full scale 1.0 · the whole DI, mono, any length.
    rate
        Frames a second.

    Returns
    -------
    tuple[Edge, Edge]
        Beginning and end. Where nothing can be heard all frames are silence, at both. A fade's length is
        read off the level: within a fifth on steady sound, less surely where a note begins or dies in it.
    """
    return _edge(samples, rate), _edge(samples[::-1], rate)


def _edge(samples: Singles, rate: int) -> Edge:
    """Return how a sound begins; an end is the beginning of what is turned round."""
    first = _first_audible(samples)
    if first is None:
        return Edge(
            silence_frames=samples.shape[0],
            step_dbfs=SILENCE_DBFS,
            click_db=SILENCE_DBFS,
            fade_frames=0,
        )
    before = float(samples[first - 1]) if first else 0.0
    step = abs(float(samples[first]) - before)
    step_dbfs = db_from_ratio(step) if step > 2.0 * AUDIBLE else SILENCE_DBFS
    beside = samples[first + 1 : first + 1 + max(1, round(_BESIDE_S * rate))]
    stands = step_dbfs > SILENCE_DBFS and beside.size > 0 and bool(np.any(beside))
    return Edge(
        silence_frames=first,
        step_dbfs=step_dbfs,
        click_db=step_dbfs - rms_dbfs(beside) if stands else SILENCE_DBFS,
        fade_frames=_fade(samples[first : first + 2 * rate], rate),
    )


def _first_audible(samples: Singles) -> int | None:
    for low in range(0, samples.shape[0], 65_536):
        heard = np.abs(samples[low : low + 65_536]) >= AUDIBLE
        if np.any(heard):
            return low + int(np.argmax(heard))
    return None


def _fade(sound: Singles, rate: int) -> int:
    """Return the length of the straight fade that explains the levels best; 0 where none does."""
    cell = max(1, rate // _CELLS)
    rows = sound[: sound.size // cell * cell].reshape(-1, cell).astype(np.float64)
    level = np.sqrt(np.mean(rows * rows, axis=1))
    fitted = [
        (gain * cells, cells)
        for seconds in _LENGTHS_S
        if (cells := round(seconds * rate / cell)) >= 2
        and 2 * cells <= level.size
        and (gain := _explained(level[: 2 * cells], cells)) is not None
    ]
    return max(fitted)[1] * cell if fitted else 0


def _explained(level: Floats, cells: int) -> float | None:
    """Return what a fade over the first `cells` levels takes off their spread; None where it is no fade."""
    behind = float(np.median(level[cells:]))
    begins = float(np.mean(level[: max(1, cells // 8)]))
    if behind <= 0.0 or begins > _BEGINS * behind:
        return None
    line = np.minimum((np.arange(level.size) + 0.5) / cells, 1.0)
    heard = np.log(np.maximum(level / behind, 1e-4))
    left = float(np.mean(np.abs(heard - np.log(line))))
    flat = float(np.mean(np.abs(heard - np.median(heard))))
    return flat - left if left < _FADES * flat else None
