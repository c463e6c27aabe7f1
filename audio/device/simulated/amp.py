"""The amplifier: a saturation with an even and an odd part, between oversampling filters."""

from __future__ import annotations

import math

import numpy as np

from audio.device.simulated.filters import Band, Coupling, Oversampler, Pole, Signal
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import Amp, Bell

LATENCY = 48
"""Frames the oversampling filters are late by: flat to 20 kHz, images 100 dB down, at 48 kHz."""
_PLAYED_RMS = ratio_from_db(-18.0)
"""Level of playing that comes out as loud as it went in, whatever the drive."""
COUPLING_HZ = 15.0
"""Corner of the coupling capacitor that takes the direct current of an asymmetric saturation away."""
_REST = 0.2
"""Where the working point stands at rest, at asymmetry 1."""
_SHIFT = 0.5
"""How far loud playing pushes it, as a share of the mean of the rectified signal, at asymmetry 1: a
valve whose grid conducts charges the capacitor before it (common practice, no source)."""
_SHIFT_S = 0.03


def even_level(*, drive: float, asymmetry: float) -> float:
    """Return the gain after the curve that gives playing at −18 dBFS its level back.

    The mean square of the curve over a Laplace distribution of that RMS (amplitudes of music are
    more peaked than Gaussian: common practice, no source), its direct current taken off.
    """
    at = np.linspace(-12.0, 12.0, 4801)
    weight = np.exp(-np.sqrt(2.0) * np.abs(at))
    weight /= weight.sum()
    hot = at * (_PLAYED_RMS * drive)
    out = np.tanh(hot + asymmetry * (_REST + _SHIFT * float(weight @ np.abs(hot))))
    mean = float(weight @ out)
    return _PLAYED_RMS / float(np.sqrt(weight @ (out - mean) ** 2))


class Saturation:
    """Drive, a hyperbolic tangent about a moving working point, and level, at four times the rate.

    About the middle the curve is odd and makes odd harmonics only; off the middle, even ones too (any
    handbook of signals: the Fourier series of a function with half-wave symmetry has no even terms).
    """

    def __init__(self, *, rate: int, drive_db: float, asymmetry: float, latency: int) -> None:
        self._drive = ratio_from_db(drive_db)
        self._asymmetry = asymmetry
        self._level = even_level(drive=self._drive, asymmetry=asymmetry)
        self._oversampler = Oversampler(latency=latency)
        follow = math.exp(-1.0 / (_SHIFT_S * rate))
        self._shift = (1.0 - follow) * _SHIFT * asymmetry * self._drive
        self._follow = Pole(follow)

    def process(self, signal: Signal) -> Signal:
        """Return `signal` of shape (frames,) saturated, late by the latency."""
        hot = self._oversampler.up(signal)
        hot *= self._drive
        if self._asymmetry:
            hot += self._working_point(signal)
        # Single precision (−140 dB) is four times as fast. Rest is taken off as coarsely as the curve is
        # computed, so that nothing in gives nothing out.
        out = np.tanh(hot.astype(np.float32)).astype(np.float64)
        out -= np.float64(np.tanh(np.float32(_REST * self._asymmetry)))
        out *= self._level
        return self._oversampler.down(out)

    def _working_point(self, signal: Signal) -> Signal:
        return self._follow.process(np.abs(signal) * self._shift) + _REST * self._asymmetry


class Tone:
    """A bell-shaped lift or dip, minimum phase: nothing arrives later for it.

    1 + (g − 1) · band-pass, with g the gain at the middle. The band has Q · √g: then the same bell up
    and down cancel each other (the usual peaking equalizer of handbooks, from memory).
    """

    def __init__(self, bell: Bell, *, rate: int) -> None:
        gain = ratio_from_db(bell.db)
        self._band = Band(hz=bell.hz, q=bell.q * math.sqrt(gain), gain=gain - 1.0, rate=rate)

    def process(self, signal: Signal) -> Signal:
        """Return `signal` of shape (frames,) with the bell in it."""
        return signal + self._band.process(signal)


class Amplifier:
    """The amplifier of a wiring, speaker excluded."""

    def __init__(self, amp: Amp, *, rate: int) -> None:
        self.latency = 0 if amp.clean else LATENCY
        self._saturation = (
            None
            if amp.clean
            else Saturation(
                rate=rate, drive_db=amp.drive_db, asymmetry=amp.asymmetry, latency=LATENCY
            )
        )
        self._coupling = Coupling(hz=COUPLING_HZ, rate=rate)
        self._tone = None if amp.bell is None else Tone(amp.bell, rate=rate)

    def process(self, signal: Signal) -> Signal:
        """Return `signal` of shape (frames,), amplified, late by `latency` frames."""
        if self._saturation is not None:
            signal = self._coupling.process(self._saturation.process(signal))
        return signal if self._tone is None else self._tone.process(signal)
