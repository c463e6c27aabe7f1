"""Pedals that follow the level: gate and compressor."""

from __future__ import annotations

import math

import numpy as np

from audio.device.simulated.filters import Signal
from audio.device.simulated.pedals.pedal import Pedal
from audio.vocab.units import ratio_from_db


class Follower:
    """One pole that rises and falls at different speeds.

    Frame by frame in plain Python: which speed holds depends on the frame before, so no array
    operation can do it; 512 frames take some 30 microseconds.
    """

    def __init__(self, *, rise_ms: float, fall_ms: float, rate: int) -> None:
        self._rise = _step(rise_ms, rate)
        self._fall = _step(fall_ms, rate)
        self._level = 0.0

    def process(self, signal: Signal) -> Signal:
        """Return the followed level, shape (frames,) both."""
        level, rise, fall = self._level, self._rise, self._fall
        out = []
        for value in signal.tolist():
            level += (rise if value > level else fall) * (value - level)
            out.append(level)
        self._level = level
        return np.array(out)


class Gate(Pedal):
    """A noise gate: shut until a peak passes the threshold."""

    def __init__(
        self, *, rate: int, threshold_db: float, attack_ms: float, hold_ms: float, release_ms: float
    ) -> None:
        self._threshold = ratio_from_db(threshold_db)
        self._peak = Follower(rise_ms=0.0, fall_ms=hold_ms, rate=rate)
        self._gain = Follower(rise_ms=attack_ms, fall_ms=release_ms, rate=rate)

    def process(self, signal: Signal) -> Signal:
        """Return the signal where it is loud enough, nothing where it is not."""
        heard = self._peak.process(np.abs(signal)) > self._threshold
        return signal * self._gain.process(heard.astype(np.float64))


class Compressor(Pedal):
    """A feed-forward compressor with a hard knee."""

    def __init__(
        self,
        *,
        rate: int,
        threshold_db: float,
        ratio: float,
        attack_ms: float,
        release_ms: float,
        makeup_db: float,
    ) -> None:
        self._threshold = ratio_from_db(threshold_db)
        self._power = 1.0 / ratio - 1.0
        self._makeup = ratio_from_db(makeup_db)
        self._level = Follower(rise_ms=attack_ms, fall_ms=release_ms, rate=rate)

    def process(self, signal: Signal) -> Signal:
        """Return the signal, what is over the threshold divided by the ratio (in decibels)."""
        level = self._level.process(np.abs(signal))
        over = np.maximum(level / self._threshold, 1.0)
        return signal * (over**self._power * self._makeup)


def _step(time_ms: float, rate: int) -> float:
    """Return the share of the distance covered in a frame by a pole of that time constant."""
    return 1.0 if time_ms == 0.0 else 1.0 - math.exp(-1000.0 / (time_ms * rate))
