"""Repeats of a chain, told by the playing alone: by what they comb into the spectrum.

A repeat later by T and g as strong multiplies power over frequency by 1 + 2·g·cos(2πfT), nearly; the
transform of the logarithm of power over frequency, the power cepstrum (Bogert, Healy and Tukey 1963),
shows it as a line at T. What is played combs, too: each pitch, and a figure that comes again. So the DI's
spectrum is taken off, or that of another recording of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft
from scipy.ndimage import uniform_filter1d

from audio.vocab.results import Echo
from audio.vocab.units import db_from_ratio, ratio_from_db

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SHORTEST_S, LONGEST_S = 0.040, 1.5
"""As of a click's repeats: a nearer one is a room's; a longer one nobody plays to."""

_WINDOW_S = 5.4
_LOW_HZ, _HIGH_HZ = 80.0, 5000.0
"""Where an amp has something to comb."""
_SMOOTH_HZ = 50.0
"""Wider shapes are tone, not repeats."""
_FLOOR = 1e-7
"""Power under the loudest bin's from which on a bin counts as empty."""
_MOST = 3.0
"""A bin's logarithm is held to so much either way: an empty one tells nothing."""
_LEAST = 0.1
"""Weakest repeat, linear."""
_CLEAR = 12.0
"""Line over the RMS of what stands beside it."""
_ALONE = 1.7
"""Line over the highest beside it that is no multiple. Without an echo, by the DI, the highest stood at
most 1.35 times over the next in rooms of seeds below 1000, with one of 12 dB under at 2 times and more."""
_NEAR_S = 0.004


class RunningComb:
    """Power over frequency in fine lines, of a signal fed in pieces of any size.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self.rate = rate
        self.size = 1 << round(float(np.log2(_WINDOW_S * rate)))
        self._first = int(_LOW_HZ * self.size / rate)
        self._last = min(int(_HIGH_HZ * self.size / rate), self.size // 2)
        self._window = np.hanning(self.size).astype(np.float32)
        self._held = np.zeros(0, dtype=np.float32)
        self._sum = np.zeros(self._last - self._first)
        self._windows = 0

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound."""
        self._held = np.concatenate((self._held, piece.astype(np.float32, copy=False)))
        at = 0
        while at + self.size <= self._held.size:
            self._add(self._held[at : at + self.size] * self._window)
            at += self.size
        self._held = self._held[at:].copy()

    def lines(self) -> Floats:
        """Return the power of each line, every window counting alike; zeros where nothing sounds."""
        if not self._windows and self._held.size:
            self._add(self._held * np.hanning(self._held.size).astype(np.float32))
        return self._sum

    def spread(self, power: Floats) -> Floats:
        """Return lines where they lie in a whole spectrum, (size // 2 + 1,)."""
        return np.pad(power, (self._first, self.size // 2 + 1 - self._last))

    def _add(self, windowed: NDArray[np.float32]) -> None:
        spectrum = fft.rfft(windowed, self.size)[self._first : self._last]
        power = (spectrum.real**2 + spectrum.imag**2).astype(np.float64)
        whole = float(np.sum(power))
        if whole > 0.0:
            self._sum += power / whole
        self._windows += 1


def echo_between(sound: RunningComb, bare: RunningComb) -> tuple[Echo | None, bool]:
    """Return the repeats that one recording has and another one of the same playing has not.

    Parameters
    ----------
    sound
        What may have repeats.
    bare
        The DI, or another sound of it.

    Returns
    -------
    tuple of Echo or None, and bool
        None where none is clear; else also whether it is `sound` that repeats, not `bare`.
    """
    line = _cepstrum(sound, bare)
    if line is None:
        return None, True
    rate, near = sound.rate, round(_NEAR_S * sound.rate)
    first = round(SHORTEST_S * rate)
    height = np.abs(line)
    height[:first] = 0.0
    at = int(np.argmax(height))
    strength = float(height[at]) / 2.0 / _kept(at / sound.size)
    if strength < _LEAST or not _stands_out(height, at, near=near, first=first):
        return None, True
    width = 1000.0 / (2.0 * _HIGH_HZ)
    echo = Echo(
        repeat_ms=1000.0 * at / rate,
        plus_minus_ms=width,
        level_db=db_from_ratio(min(strength, 1.0)),
    )
    return echo, bool(line[at] > 0.0)


def repeats_more(sound: RunningComb, bare: RunningComb, echo: Echo) -> bool:
    """Return whether one sound repeats at an echo's time, at half its strength at least, beyond another."""
    line = _cepstrum(sound, bare)
    if line is None:
        return False
    at, near = round(echo.repeat_ms / 1000.0 * sound.rate), round(_NEAR_S * sound.rate)
    height = float(np.max(line[max(at - near, 0) : at + near + 1], initial=0.0))
    return height / 2.0 / _kept(at / sound.size) >= 0.5 * ratio_from_db(echo.level_db)


def _cepstrum(sound: RunningComb, bare: RunningComb) -> Floats | None:
    """Return how much each time combs the ratio of both, up to `LONGEST_S`; None where one is silent."""
    mine, other = sound.lines(), bare.lines()
    if not np.any(mine) or not np.any(other):
        return None
    ratio = np.log(mine + _FLOOR * np.max(mine)) - np.log(other + _FLOOR * np.max(other))
    ratio -= uniform_filter1d(ratio, int(_SMOOTH_HZ * sound.size / sound.rate) | 1)
    inside = sound.spread(np.clip(ratio, -_MOST, _MOST))
    whole = fft.irfft(inside) * (sound.size / ratio.size)
    return np.asarray(whole[: round(LONGEST_S * sound.rate)])


def _stands_out(height: Floats, at: int, *, near: int, first: int) -> bool:
    beside = height.copy()
    for multiple in range(1, height.size // max(at, 1) + 1):
        middle = multiple * at
        beside[max(middle - near, 0) : middle + near + 1] = 0.0
    beside = beside[first:]
    level = float(np.sqrt(np.mean(beside**2)))
    return bool(height[at] > max(_CLEAR * level, _ALONE * float(np.max(beside))))


def _kept(late: float) -> float:
    """Return which share of a repeat a Hann window still holds beside what it repeats."""
    turn = 2.0 * np.pi * late
    return float((1.0 - late) * (2.0 + np.cos(turn)) / 3.0 + np.sin(turn) / (2.0 * np.pi))
