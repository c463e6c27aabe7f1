"""Pedals that move with time: tremolo, vibrato, chorus."""

from __future__ import annotations

import math

import numpy as np

from audio.device.simulated.filters import Signal
from audio.device.simulated.pedals.pedal import Pedal


class Wave:
    """A sine that counts frames, exact after any number of them."""

    def __init__(self, *, hz: float, rate: int) -> None:
        self._turns = hz / rate
        self._frame = 0

    def take(self, frames: int) -> Signal:
        """Return the next `frames` values, −1 to 1, starting at 0 and rising."""
        at = np.arange(self._frame, self._frame + frames)
        self._frame += frames
        return np.asarray(np.sin(2.0 * np.pi * ((at * self._turns) % 1.0)), dtype=np.float64)


class Tremolo(Pedal):
    """Level that goes up and down."""

    def __init__(self, *, rate: int, hz: float, depth: float) -> None:
        self._wave = Wave(hz=hz, rate=rate)
        self._depth = depth

    def process(self, signal: Signal) -> Signal:
        """Return the signal times a gain between 1 − depth and 1."""
        return signal * (1.0 - self._depth * (0.5 + 0.5 * self._wave.take(signal.size)))


class Moved:
    """A delay that moves as a sine about its middle, read between frames.

    Four-point Lagrange interpolation (Laakso et al. 1996, Splitting the unit delay; from memory).
    """

    def __init__(self, *, rate: int, hz: float, delay_ms: float, depth_ms: float) -> None:
        self.middle = max(delay_ms * rate / 1000.0, 2.0)
        self._depth = min(depth_ms * rate / 1000.0, self.middle - 2.0)
        self._wave = Wave(hz=hz, rate=rate)
        self._past = np.zeros(math.ceil(self.middle + self._depth) + 2)

    def process(self, signal: Signal) -> Signal:
        """Return the signal, late by the delay of each frame."""
        joined = np.concatenate((self._past, signal))
        late = self.middle + self._depth * self._wave.take(signal.size)
        at = np.arange(self._past.size, joined.size) - late
        self._past = joined[signal.size :]
        first = np.floor(at).astype(np.intp)
        x = at - first
        out = joined[first - 1] * (-x * (x - 1.0) * (x - 2.0) / 6.0)
        out += joined[first] * ((x + 1.0) * (x - 1.0) * (x - 2.0) / 2.0)
        out += joined[first + 1] * (-x * (x + 1.0) * (x - 2.0) / 2.0)
        out += joined[first + 2] * (x * (x + 1.0) * (x - 1.0) / 6.0)
        return np.asarray(out, dtype=np.float64)


class Chorus(Pedal):
    """The signal and a copy whose delay moves; all copy, no signal, at mix 1: a vibrato."""

    moves = True

    def __init__(
        self, *, rate: int, hz: float, delay_ms: float, depth_ms: float, mix: float
    ) -> None:
        self._copy = Moved(rate=rate, hz=hz, delay_ms=delay_ms, depth_ms=depth_ms)
        self._mix = mix
        self.delay_frames = self._copy.middle if mix == 1.0 else 0.0

    def process(self, signal: Signal) -> Signal:
        """Return both, the dry one with gain 1 − mix."""
        return (1.0 - self._mix) * signal + self._mix * self._copy.process(signal)


class Vibrato(Chorus):
    """Pitch that goes up and down: only the moving copy; its middle counts as the delay."""

    def __init__(self, *, rate: int, hz: float, delay_ms: float, depth_ms: float) -> None:
        super().__init__(rate=rate, hz=hz, delay_ms=delay_ms, depth_ms=depth_ms, mix=1.0)
