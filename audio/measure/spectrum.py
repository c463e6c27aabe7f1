"""Power over frequency: how much of a signal's mean square lies at each whole hertz.

Windows of one second follow each other at half their length; a shorter signal is one window. What lies
behind the last whole step is looked at through a window that ends with the signal. Transforms are of single
precision: their rounding lies 140 dB under the signal.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

Window = Callable[[int], "Floats"]
"""Returns a window of so many frames, shape (frames,)."""

_BLACKMAN_HARRIS = (0.35875, -0.48829, 0.14128, -0.01168)

NARROW_REACH_HZ = 4
"""How far a steady tone reaches to both sides through `narrow`, windows of one second."""


def even(frames: int) -> Floats:
    """Return a window whose squares add up to 1 at half steps: every frame counts alike.

    The power-complementary slope of the Vorbis I specification (1.3.2, from memory).
    """
    return np.asarray(np.sin(np.pi / 2.0 * np.sin(np.pi * (np.arange(frames) + 0.5) / frames) ** 2))


def narrow(frames: int) -> Floats:
    """Return a window that keeps a loud tone within 4 Hz, 92 dB down outside.

    Four terms of Blackman and Harris (F. J. Harris 1978, table 1; coefficients from memory).
    """
    turn = 2.0 * np.pi * np.arange(frames) / frames
    return np.asarray(sum(a * np.cos(k * turn) for k, a in enumerate(_BLACKMAN_HARRIS)))


class RunningPower:
    """Power at each whole hertz of a signal that is fed piece by piece; pieces of any size.

    Parameters
    ----------
    rate
        Frames a second.
    window
        `even` for levels, `narrow` for tones.
    """

    def __init__(self, *, rate: int, window: Window) -> None:
        self._size = rate
        self._hop = rate // 2
        self._make = window
        self._window = window(rate).astype(np.float32)
        self._held = np.zeros(0, dtype=np.float32)  # from the beginning of the last window on
        self._sum = np.zeros(rate // 2 + 1)
        self._windows = 0

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound."""
        self._held = np.concatenate((self._held, piece.astype(np.float32, copy=False)))
        first = self._hop if self._windows else 0
        if self._held.size < first + self._size:
            return
        rows = np.lib.stride_tricks.sliding_window_view(self._held, self._size)[first :: self._hop]
        for row in rows:  # one after the other stays within the cache
            self._sum += self._seen(row, self._window)
        self._windows += rows.shape[0]
        self._held = self._held[first + (rows.shape[0] - 1) * self._hop :].copy()

    def power(self) -> Floats:
        """Return the mean square that lies at each whole hertz, shape (rate // 2 + 1,).

        Together they make the mean square of the signal. All zeros when nothing was fed.
        """
        if not self._held.size:
            return self._sum.copy()
        if not self._windows:
            window = self._make(self._held.size).astype(np.float32)
            return self._seen(self._held, window).astype(np.float64)
        if self._held.size == self._size:
            return self._sum / self._windows
        last = self._seen(self._held[-self._size :], self._window)
        return np.asarray((self._sum + last) / (self._windows + 1))

    def _seen(self, row: Singles, window: Singles) -> Singles:
        # Filled up to a second, a transform's bins are one hertz apart.
        spectrum = fft.rfft(row * window, self._size)
        power = spectrum.real**2 + spectrum.imag**2
        power[1 : (self._size + 1) // 2] *= 2.0  # what lies at negative frequencies is as much
        power /= self._size * np.dot(window, window)
        return np.asarray(power)


def power_by_hz(signal: NDArray[np.floating], *, rate: int, window: Window) -> Floats:
    """Return what `RunningPower.power` does of a whole (frames,) signal."""
    running = RunningPower(rate=rate, window=window)
    running.feed(signal)
    return running.power()
