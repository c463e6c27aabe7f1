"""The peak between the samples, by oversampling (ITU-R BS.1770-5, annex 2), while the sound comes in."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Singles = NDArray[np.float32]

_RATE = 192_000
"""The annex oversamples to this at least: four times from 48 kHz."""
_HALF_FRAMES = 24
"""Of the interpolating filter, in frames of the sound. The annex's own has 6 and is 0.6 dB off near half
the rate; this one is flat to 0.45 of the rate."""
_KAISER = 8.0

_AT_ONCE = 32
"""Frames whose values are one product with a matrix."""
_WIDE = _AT_ONCE + 2 * _HALF_FRAMES - 1
"""Frames that those are made of."""
_ROWS = 64
"""Products at once. Larger ones are spread over threads, which wait for each other by the second where
another program is busy (measured: 0.04 to 8.8 s for a minute of sound on two cores)."""

_MANY_ROWS = 1024
"""Where the process was told to compute on one thread: what is in the processor's memory then."""

MARGIN = _HALF_FRAMES
"""Frames around a stretch that the values in it are made of."""


class RunningTruePeak:
    """The largest value of the waveform that goes through the samples; pieces of any size.

    What lies nearer to an end than the filter is long is told by its samples alone: a cut would ring.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        finer = math.ceil(_RATE / rate)
        self._between = _between(finer) if finer > 1 else None
        self._held = np.zeros(0, dtype=np.float32)  # what the next values between need
        self._peak = 0.0

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound, linear."""
        self._peak = max(self._peak, float(np.max(np.abs(piece), initial=0.0)))
        if self._between is None:
            return
        # Single precision: its rounding is a millionth of a decibel.
        self._held = np.concatenate((self._held, piece.astype(np.float32, copy=False)))
        whole = max(0, self._held.size - _WIDE + _AT_ONCE) // _AT_ONCE
        if whole:
            rows = np.lib.stride_tricks.sliding_window_view(self._held, _WIDE)[::_AT_ONCE][:whole]
            loud = _could_exceed(self._held, whole, self._peak, self._between)
            self._peak = max(self._peak, _highest(rows[loud], self._between))
            self._held = self._held[whole * _AT_ONCE :].copy()

    def dbtp(self) -> float:
        """Return the true peak so far, dBTP, at least the sample peak."""
        left = self._held.size - 2 * _HALF_FRAMES + 1
        if self._between is None or left <= 0:
            return db_from_ratio(self._peak)
        # Silence behind the end: only values that see none of it are looked at.
        row = np.pad(self._held, (0, _WIDE - self._held.size))
        values = (row @ self._between).reshape(-1, _AT_ONCE)[:, :left]
        return db_from_ratio(max(self._peak, float(np.max(np.abs(values)))))


def true_peak_dbtp(sound: NDArray[np.floating], *, rate: int) -> float:
    """Return what `RunningTruePeak.dbtp` does of a whole (frames,) sound."""
    running = RunningTruePeak(rate=rate)
    running.feed(sound)
    return running.dbtp()


def piece_peaks(sound: NDArray[np.floating], *, piece: int, rate: int) -> Singles:
    """Return the true peak of each piece of a sound, from its first frame to the next one's.

    Parameters
    ----------
    sound
        (`MARGIN` + pieces · piece + `MARGIN`,) · linear; the margins are what lies around the pieces.
    piece
        Frames of one.
    rate
        Frames a second.

    Returns
    -------
    NDArray[np.float32]
        (pieces,) · linear, at least the sample peak.
    """
    frames = sound.size - 2 * MARGIN
    finer = math.ceil(_RATE / rate)
    highest = np.abs(sound[MARGIN : MARGIN + frames]).astype(np.float32)
    if finer > 1:
        between = _between(finer)
        rows = -(-frames // _AT_ONCE)
        seen = np.zeros(rows * _AT_ONCE + _WIDE - _AT_ONCE, dtype=np.float32)
        there = sound[
            1 : 1 + seen.size
        ]  # the first value between needs one frame less than the margin
        seen[: there.size] = there
        wide = np.lib.stride_tricks.sliding_window_view(seen, _WIDE)[::_AT_ONCE]
        for row in range(0, rows, _MANY_ROWS):
            values = np.ascontiguousarray(wide[row : row + _MANY_ROWS]) @ between
            np.abs(values, out=values)
            tops = values.reshape(-1, finer - 1, _AT_ONCE).max(axis=1).ravel()
            part = highest[row * _AT_ONCE : row * _AT_ONCE + tops.size]
            np.maximum(part, tops[: part.size], out=part)
    return np.asarray(highest.reshape(-1, piece).max(axis=1))


def _could_exceed(held: Singles, whole: int, peak: float, between: Singles) -> NDArray[np.bool_]:
    """Return which of the rows may hold a value over a peak: none is larger than its frames times the taps.

    Of most music that is a small share, and nothing is lost by leaving the others out.
    """
    frames = (whole + _WIDE // _AT_ONCE) * _AT_ONCE
    level = np.zeros(frames, dtype=np.float32)
    there = min(frames, held.size)
    np.abs(held[:there], out=level[:there])
    tops = level.reshape(-1, _AT_ONCE).max(axis=1)
    wide = np.lib.stride_tricks.sliding_window_view(tops, _WIDE // _AT_ONCE + 1)[:whole]
    most = float(np.max(np.sum(np.abs(between), axis=0)))
    return np.asarray(wide.max(axis=1) * most > peak)


def _highest(rows: Singles, between: Singles) -> float:
    """Return the largest absolute value between the samples of (rows, frames)."""
    highest = 0.0
    for at in range(0, rows.shape[0], _ROWS):
        values = rows[at : at + _ROWS] @ between
        highest = max(highest, float(np.max(values)), -float(np.min(values)))
    return highest


@lru_cache(maxsize=4)
def _between(finer: int) -> Singles:
    """Return what makes the values between of frames, (frames that are seen, finer − 1 · values)."""
    matrix = np.zeros((_WIDE, finer - 1, _AT_ONCE), dtype=np.float32)
    for part in range(1, finer):
        taps = _taps(part / finer)
        for at in range(_AT_ONCE):
            matrix[at : at + taps.size, part - 1, at] = taps
    return matrix.reshape(_WIDE, -1)


def _taps(part: float) -> NDArray[np.float64]:
    """Return the weights of the frames around a place that lies by a part of a frame behind one.

    A sinc of half the rate under a Kaiser window, (2 · half,), its sum 1.
    """
    away = part + np.arange(_HALF_FRAMES - 1, -_HALF_FRAMES - 1, -1)
    shape = np.sinc(away) * np.i0(_KAISER * np.sqrt(1.0 - (away / _HALF_FRAMES) ** 2))
    return np.asarray(shape / np.sum(shape))
