"""By how much a sound gets louder at a place: what tells an attack from a joint in a note that rings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.levels import rms
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

BESIDE_S = 0.015
"""What is looked at on either side: an attack is at its height by then (common practice, no source)."""

APART_S = 0.001
"""What is left out on either side: the step itself."""

SILENT_DB = 200.0
"""Told where there is nothing before."""


def rise_db(samples: NDArray[np.float32], frame: int, *, rate: int) -> float:
    """Return by how many decibels the sound behind a frame is louder and brighter than before it.

    What is compared is the signal's slope: a string that was struck anew is bright, one that rings is not.

    Parameters
    ----------
    samples
        (frames,) · full scale 1.
    frame
        Any, from 0 to the last.
    rate
        Frames a second.

    Returns
    -------
    float
        −`SILENT_DB` to `SILENT_DB` · 0 where there is nothing on either side.
    """
    near, far = round(APART_S * rate), round(BESIDE_S * rate)
    before = np.diff(samples[max(frame - far, 0) : max(frame - near, 0)])
    behind = np.diff(samples[frame + near : frame + far])
    loud = (rms(before), rms(behind))
    if not loud[0] or not loud[1]:
        return SILENT_DB * (bool(loud[1]) - bool(loud[0]))
    return float(np.clip(db_from_ratio(loud[1] / loud[0]), -SILENT_DB, SILENT_DB))
