"""Sounds that are lines over a fundamental: mains hum, and the whine of a computer's bus."""

from __future__ import annotations

import numpy as np

from audio.device.simulated.filters import Signal

_HARMONICS_DB = (0.0, -12.0, -6.0, -18.0, -10.0, -22.0, -14.0, -26.0, -18.0, -30.0)
"""Mains frequency and its multiples, the odd ones stronger: rectifiers load both half waves alike
(common practice, no source)."""
MAINS, GROUND, _WHINE = 50, 52, 51
"""What the phases of each are drawn with, besides the room's seed: hum that comes by two ways is one
mains, but turned."""
_BAND_HZ = 20_000.0
"""Where a whine ends: nobody hears it further up, and converters filter there."""


class Lines:
    """A fundamental and its multiples, counted in frames."""

    def __init__(
        self, *, hz: float, rate: int, heights: Signal, level_dbfs: float, turns: Signal
    ) -> None:
        """Take the heights of the lines against each other and their phases, radians.

        `level_dbfs` is the RMS of all lines together.
        """
        heights = heights * (np.sqrt(2.0 / np.sum(heights**2)) * 10.0 ** (level_dbfs / 20.0))
        self._lines = (heights * np.exp(1j * turns)).tolist()
        self._step = hz / rate

    def take(self, frame: int, frames: int) -> Signal:
        """Return the lines of `frames` frames from `frame` on."""
        at = np.arange(frame, frame + frames)
        turn = np.exp(2j * np.pi * ((at * self._step) % 1.0))
        total = np.zeros(frames, dtype=np.complex128)
        for line in reversed(self._lines):
            total = (total + line) * turn
        return total.imag


def hum(*, hz: float, level_dbfs: float, rate: int, seed: int, by: int = MAINS) -> Lines:
    """Return mains hum that comes `by` one way: ten lines, all together `level_dbfs`."""
    heights = 10.0 ** (np.array(_HARMONICS_DB) / 20.0)
    turns = _phases(heights.size, seed, by)
    return Lines(hz=hz, rate=rate, heights=heights, level_dbfs=level_dbfs, turns=turns)


def whine(*, family_hz: int, level_dbfs: float, rate: int, seed: int) -> Lines:
    """Return what a bus leaks into the sound: its frames' rate and all multiples up to 20 kHz.

    USB sends a frame each millisecond, and eight microframes in it at high speed (USB 2.0, section
    5.3.3 from memory). That the lines fall by 6 dB an octave is common practice, no source.
    """
    heights = 1.0 / np.arange(1.0, _BAND_HZ // family_hz + 1.0)
    turns = _phases(heights.size, seed, _WHINE)
    return Lines(hz=family_hz, rate=rate, heights=heights, level_dbfs=level_dbfs, turns=turns)


def _phases(count: int, seed: int, what: int) -> Signal:
    return np.random.default_rng([seed, what]).uniform(0.0, 2.0 * np.pi, count)
