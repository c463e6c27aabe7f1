"""Outlines of signals for the eye: lowest and highest sample of each stretch, in steps of 16 bits.

What is drawn is some tens of rows high, each of eight steps; 2**16 steps are plenty, and a quarter of the
bytes of a float. No figure is ever taken from them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[np.int16]
Floats = NDArray[np.float64]

_Number = TypeVar("_Number", np.int16, np.float64)

BASE_FRAMES = 256
"""Frames of a stretch at the finest resolution; closer than this, single samples are looked at."""

STEP = 4
"""Stretches of one resolution that make one of the next."""

MOST_AT_TOP = 512
"""Stretches of the coarsest resolution at most: no terminal has more columns to draw them in."""

_FULL_SCALE = 2.0**15


def codes(signal: Floats) -> Codes:
    """Return a signal in steps of 16 bits.

    Parameters
    ----------
    signal
        Any shape · full scale 1.0 · what lies beyond it, infinities included, stands at full scale, what
        is no number at 0.

    Returns
    -------
    NDArray[np.int16]
        The same shape, each sample rounded to the nearest step of 2**−15.
    """
    return _steps(_numbers(signal), np.rint)


def lows_and_highs(signal: Floats, *, bin_frames: int) -> tuple[Codes, Codes]:
    """Return the lowest and the highest sample of each stretch.

    Parameters
    ----------
    signal
        (frames,) · full scale 1.0 · as for `codes`.
    bin_frames
        Frames of a stretch, 1 or more; the last one may be shorter.

    Returns
    -------
    tuple of NDArray[np.int16]
        Lows and highs, both of shape (⌈frames / bin_frames⌉,), rounded outwards: a stretch that is not
        silent is not drawn as silence.
    """
    rows = _rows(_numbers(signal), bin_frames)
    return _steps(rows.min(axis=1), np.floor), _steps(rows.max(axis=1), np.ceil)


def pyramid(lows: Codes, highs: Codes) -> list[tuple[int, Codes, Codes]]:
    """Return an outline at several resolutions, the finest first.

    Parameters
    ----------
    lows
        (bins,) · of stretches of `BASE_FRAMES`.
    highs
        As many.

    Returns
    -------
    list of (int, NDArray[np.int16], NDArray[np.int16])
        Frames of a stretch, lows and highs; each `STEP` times coarser than the one before, until at most
        `MOST_AT_TOP` stretches are left.
    """
    levels = [(BASE_FRAMES, lows, highs)]
    while levels[-1][1].size > MOST_AT_TOP:
        frames, lows, highs = levels[-1]
        coarser = _rows(lows, STEP).min(axis=1), _rows(highs, STEP).max(axis=1)
        levels.append((frames * STEP, *coarser))
    return levels


def _rows(values: NDArray[_Number], size: int) -> NDArray[_Number]:
    """Return values in rows, the last one filled with its last value, which changes no extreme."""
    short = -values.size % size
    filled = np.pad(values, (0, short), mode="edge") if short and values.size else values
    return filled.reshape(-1, size)


def _numbers(signal: Floats) -> Floats:
    wrong = np.isnan(signal)
    return np.where(wrong, 0.0, signal) if wrong.any() else signal


def _steps(values: Floats, rounded: Callable[[Floats], Floats]) -> Codes:
    whole = rounded(np.clip(values, -1.0, 1.0) * _FULL_SCALE)
    return np.clip(whole, -_FULL_SCALE, _FULL_SCALE - 1.0).astype(np.int16)
