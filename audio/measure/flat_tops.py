"""Tops cut off below full scale: a converter that clipped, and a gain taken down behind it.

What clipped stands at one level, the largest there is, several samples in a row and again and again, and
drops from it at once. Saturation and fuzz round their tops: no two are alike to the last code.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.clipping import SHORTEST_RUN
from audio.measure.finest import code_of
from audio.measure.levels import FULL_SCALE
from audio.vocab.results import ClippedRun

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Singles = NDArray[np.float32]

_ALIKE = 2.0 * 2.0**-23
"""How far a top may lie under the largest: two codes of 24 bits, for the gain's rounding."""
_FEWEST = 3
"""Tops at one level: a largest sample that is met three times in a row, three times over, is a limit."""
_LONG = 8
"""Or one alone that is as long."""
_CORNER = 4.0
"""Codes by which the samples beside a top must lie under it: a slow wave's own top is flat for some
samples, but leaves it by a code or two."""
_PIECE = 1 << 18


def find_flat_tops(samples: NDArray[np.float32], *, rate: int) -> tuple[ClippedRun, ...]:
    """Find tops that were cut off below full scale.

    Parameters
    ----------
    samples
        (frames,) · linear, full scale 1.0 · the whole DI, mono, any length.
    rate
        Frames a second.

    Returns
    -------
    tuple[ClippedRun, ...]
        By frame. Tops at full scale are told by `audio.measure.clipping`. Nothing is told of a sound that
        was filtered or resampled after it clipped: its tops are no longer flat.
    """
    del rate  # a top is flat or not, however fast it was sampled
    if samples.shape[0] < SHORTEST_RUN + 2:
        return ()
    code = code_of(samples)
    runs = [run for sign in (1.0, -1.0) for run in _tops(samples, sign, code)]
    return tuple(sorted(runs, key=lambda run: run.at_frame))


def _tops(samples: Singles, sign: float, code: float) -> list[ClippedRun]:
    """Return the flat tops of one side."""
    largest = float(np.max(samples)) if sign > 0.0 else -float(np.min(samples))
    # A square wave is all top: nothing of it says that it was cut.
    if not 0.0 < largest < FULL_SCALE:
        return []
    at = _frames_over(samples, sign, largest - _ALIKE * max(largest, 2.0**-6))
    breaks = np.flatnonzero(np.diff(at) > 1)
    starts = at[np.concatenate(([0], breaks + 1))]
    lengths = at[np.concatenate((breaks, [at.size - 1]))] - starts + 1
    runs = [
        ClippedRun(at_frame=int(start), frames=int(length))
        for start, length in zip(starts, lengths, strict=True)
        if length >= SHORTEST_RUN and _drops(samples, int(start), int(length), sign, code)
    ]
    return runs if len(runs) >= _FEWEST or any(run.frames >= _LONG for run in runs) else []


def _frames_over(samples: Singles, sign: float, limit: float) -> NDArray[np.intp]:
    parts = [
        np.flatnonzero(np.float32(sign) * samples[low : low + _PIECE] >= limit) + low
        for low in range(0, samples.shape[0], _PIECE)
    ]
    return np.asarray(np.concatenate(parts))


def _drops(samples: Singles, start: int, length: int, sign: float, code: float) -> bool:
    """Return whether the sound leaves its top at once on both sides."""
    end = start + length
    if start < 1 or end >= samples.shape[0]:
        return False
    beside = sign * np.array([samples[start - 1], samples[end]], dtype=np.float64)
    return bool(np.all(sign * float(samples[start]) - beside > _CORNER * code))
