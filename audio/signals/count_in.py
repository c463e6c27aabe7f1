"""The count-in: a short click on every beat, the first of a bar higher and louder.

Decaying sines rather than pulses: they are told from hats and pick attacks, and carry at low level. Pitches
and levels are common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.vocab.errors import UseError
from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

ACCENT_HZ, BEAT_HZ = 1760.0, 1174.66
"""A6 and D6: between guitar and cymbals."""

BEAT_DB = -3.0
"""Of a beat against an accent."""

LENGTH_S = 0.040
"""Shorter than the quickest beat there is, an eighth at 400 quarters a minute."""

_RISE_S = 0.001
_DECAY_S = 0.008


def click(*, accent: bool, rate: int) -> NDArray[np.float64]:
    """Return one click, peak 1.0 with an accent and `BEAT_DB` below without.

    Parameters
    ----------
    accent
        Whether it begins a bar.
    rate
        Frames a second.

    Returns
    -------
    NDArray[np.float64]
        (frames,) · linear · its first frame is the beat; it ends at zero.
    """
    at = np.arange(round(LENGTH_S * rate)) / rate
    rise = 0.5 - 0.5 * np.cos(np.pi * np.minimum(at / _RISE_S, 1.0))
    end = 0.5 + 0.5 * np.cos(np.pi * at / at[-1])
    hz = ACCENT_HZ if accent else BEAT_HZ
    shape = rise * end * np.exp(-at / _DECAY_S) * np.sin(2.0 * np.pi * hz * at)
    level = 1.0 if accent else ratio_from_db(BEAT_DB)
    return np.asarray(shape * (level / np.abs(shape).max()))


def counted(
    frames: Sequence[int], accents: Sequence[bool], *, level_dbfs: float, rate: int
) -> NDArray[np.float64]:
    """Return clicks on some frames.

    Parameters
    ----------
    frames
        Where each begins, ascending, the first 0 or later.
    accents
        Whether it begins a bar, one for each.
    level_dbfs
        Peak of an accent, dBFS · at most 0.
    rate
        Frames a second.

    Returns
    -------
    NDArray[np.float64]
        (frames,) · linear · ends with the last click.

    Raises
    ------
    UseError
        If there is no click, or one lies before the first frame.
    """
    if not frames or min(frames) < 0 or len(frames) != len(accents):
        raise UseError("a count-in needs beats from frame 0 on, each with or without an accent")
    sounds = {accent: click(accent=accent, rate=rate) for accent in (True, False)}
    signal = np.zeros(max(frames) + sounds[True].size)
    for frame, accent in zip(frames, accents, strict=True):
        signal[frame : frame + sounds[accent].size] += sounds[accent]
    return np.asarray(ratio_from_db(level_dbfs) * signal)
