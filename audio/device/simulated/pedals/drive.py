"""Pedals that shape tone or level at once: drive, wah, buffer, volume, tuner."""

from __future__ import annotations

import numpy as np
from scipy.signal import lfilter

from audio.device.simulated.amp import Saturation
from audio.device.simulated.filters import Signal
from audio.device.simulated.pedals.pedal import Pedal
from audio.vocab.units import ratio_from_db

_LATENCY = 16
"""Frames of oversampling: shorter than the amp's, as the tone control hides the top octave anyway."""
_BLOCK_HZ = 15.0


class Drive(Pedal):
    """A saturation with a treble cut behind it."""

    latency = _LATENCY

    def __init__(
        self, *, rate: int, drive_db: float, tone_hz: float, level_db: float, asymmetry: float
    ) -> None:
        self._saturation = Saturation(
            rate=rate, drive_db=drive_db, asymmetry=asymmetry, latency=_LATENCY
        )
        tone, block = (float(np.exp(-2.0 * np.pi * hz / rate)) for hz in (tone_hz, _BLOCK_HZ))
        self._above = np.array([1.0, -1.0]) * ((1.0 - tone) * ratio_from_db(level_db))
        self._below = np.convolve([1.0, -tone], [1.0, -block])
        self._state = np.zeros(2)

    def process(self, signal: Signal) -> Signal:
        """Return the driven signal: treble cut, direct current taken off."""
        hot = self._saturation.process(signal)
        out, self._state = lfilter(self._above, self._below, hot, zi=self._state)
        return np.asarray(out, dtype=np.float64)


class Wah(Pedal):
    """A wah left standing: a resonant band, which leaves no polarity to know."""

    inverts = None

    def __init__(self, *, rate: int, hz: float, q: float) -> None:
        turn = 2.0 * np.pi * hz / rate
        slack = float(np.sin(turn) / (2.0 * q))
        self._above = np.array([slack * q, 0.0, -slack * q]) / (1.0 + slack)
        self._below = np.array(
            [1.0, -2.0 * np.cos(turn) / (1.0 + slack), (1.0 - slack) / (1.0 + slack)]
        )
        self._state = np.zeros(2)

    def process(self, signal: Signal) -> Signal:
        """Return the band about the wah's frequency, gain Q at its middle."""
        out, self._state = lfilter(self._above, self._below, signal, zi=self._state)
        return np.asarray(out, dtype=np.float64)


class Buffer(Pedal):
    """A buffer that turns the polarity."""

    inverts = True

    def process(self, signal: Signal) -> Signal:
        """Return the signal upside down."""
        return -signal


class Volume(Pedal):
    """A volume pedal; left down it gives nothing."""

    def __init__(self, *, open: float) -> None:  # noqa: A002 - the word on the pedal
        self._gain = open
        self.mutes = open == 0.0

    def process(self, signal: Signal) -> Signal:
        """Return the signal times how far the pedal is open."""
        return signal * self._gain
