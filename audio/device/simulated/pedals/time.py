"""Pedals that answer later: echo, reverb, and the constant delay of a digital pedal."""

from __future__ import annotations

import numpy as np

from audio.device.simulated.filters import (
    SINC_LATENCY,
    Convolver,
    Delay,
    Pole,
    Signal,
    fractional_kernel,
    pole_at,
    split_delay,
)
from audio.device.simulated.pedals.pedal import Pedal

_LINES_MS = (29.7, 37.1, 41.1, 43.7, 53.0, 59.9, 67.7, 73.1)
"""Loops of the reverb, without a common measure so that their echoes do not coincide."""


class Echo(Pedal):
    """The signal again, every so many milliseconds, weaker each time."""

    def __init__(self, *, rate: int, ms: float, feedback: float, mix: float) -> None:
        self._line = np.zeros(max(1, round(ms * rate / 1000.0)))
        self._at = 0
        self._feedback = feedback
        self._mix = mix

    def process(self, signal: Signal) -> Signal:
        """Return the signal plus `mix` times its echoes."""
        out = signal.copy()
        done = 0
        while done < signal.size:
            count = min(signal.size - done, self._line.size - self._at)
            here, now = slice(self._at, self._at + count), slice(done, done + count)
            heard = self._line[here].copy()
            self._line[here] = signal[now] + self._feedback * heard
            out[now] += self._mix * heard
            self._at = (self._at + count) % self._line.size
            done += count
        return out


class Reverb(Pedal):
    """Eight loops that feed each other (a feedback delay network, Jot and Chaigne 1991; from memory)."""

    def __init__(self, *, rate: int, decay_s: float, mix: float) -> None:
        self._mix = mix
        self._lines = [np.zeros(round(ms * rate / 1000.0)) for ms in _LINES_MS]
        self._at = [0] * len(self._lines)
        lengths = np.array([line.size for line in self._lines])
        # A loop of n frames keeps 10^(-3 n / (rate T)) each turn: 60 dB down after T seconds.
        keep = 10.0 ** (-3.0 * lengths / (rate * decay_s))
        self._turn = _mixer(len(lengths)) * keep[None, :]
        self._signs = np.where(np.arange(len(lengths)) % 2, -1.0, 1.0) / np.sqrt(len(lengths))
        pole = pole_at(7000.0, rate=rate)
        self._dull, self._dull_gain = Pole(pole, rows=len(lengths)), 1.0 - pole
        self.delay_frames = float(lengths.min()) if mix == 1.0 else 0.0
        self.inverts = None if mix == 1.0 else False

    def process(self, signal: Signal) -> Signal:
        """Return the signal times 1 − mix plus the reverb times mix."""
        out = (1.0 - self._mix) * signal
        done = 0
        while done < signal.size:
            room = min(line.size - at for line, at in zip(self._lines, self._at, strict=True))
            count = min(signal.size - done, room)
            now = slice(done, done + count)
            out[now] += self._mix * self._round(signal[now])
            done += count
        return out

    def _round(self, signal: Signal) -> Signal:
        count = signal.size
        heard = np.stack(
            [li[at : at + count] for li, at in zip(self._lines, self._at, strict=True)]
        )
        dull = self._dull.process(heard * self._dull_gain)
        back = self._turn @ dull + signal
        for number, line in enumerate(self._lines):
            at = self._at[number]
            line[at : at + count] = back[number]
            self._at[number] = (at + count) % line.size
        return np.asarray(self._signs @ heard, dtype=np.float64)


def _mixer(lines: int) -> Signal:
    """Return Hadamard's matrix of that size (a power of two) as a rotation: no energy lost or won."""
    matrix = np.ones((1, 1))
    while len(matrix) < lines:
        matrix = np.kron(matrix, np.array([[1.0, 1.0], [1.0, -1.0]]) / np.sqrt(2.0))
    return matrix


class Digital(Pedal):
    """A pedal that converts and buffers: everything later by a constant.

    Under 39 frames the delay is rounded to whole frames: there is no room for the fraction's kernel.
    """

    def __init__(self, *, rate: int, ms: float) -> None:
        whole, fraction = split_delay(ms * rate / 1000.0)
        if whole < SINC_LATENCY:
            whole, fraction = round(whole + fraction), 0.0
        self.delay_frames = whole + fraction
        self._delay = Delay(whole - SINC_LATENCY if fraction else whole)
        kernel = fractional_kernel(fraction)[None, None, :]
        self._between = Convolver(kernel) if fraction else None

    def process(self, signal: Signal) -> Signal:
        """Return the signal, late."""
        late = self._delay.process(signal)
        return late if self._between is None else self._between.process(late[None, :])[0]
