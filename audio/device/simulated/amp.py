"""The amplifier: a saturation with an even and an odd part, between oversampling filters."""

from __future__ import annotations

import numpy as np
from scipy.signal import lfilter

from audio.device.simulated.filters import Oversampler, Signal
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import Amp

LATENCY = 48
"""Frames the oversampling filters are late by: flat to 20 kHz, images 100 dB down, at 48 kHz."""
_PLAYED_RMS = ratio_from_db(-18.0)
"""Level of playing that comes out as loud as it went in, whatever the drive."""
_BLOCK_HZ = 15.0
"""Corner of the coupling capacitor that takes the direct current of an asymmetric saturation away."""


def saturate(signal: Signal, *, asymmetry: float) -> Signal:
    """Return `signal` through the curve, slope near 1 at rest.

    tanh above; below, the same with its ceiling and its knee lowered to 1 / (1 + asymmetry): smooth
    to the second derivative. The working point sits 0.3 · asymmetry off the middle. A curve that is
    odd makes odd harmonics only, any other makes even ones too (any handbook of signals: the Fourier
    series of an odd half-wave-symmetric function).

    Parameters
    ----------
    signal
        Any shape, 1.0 is where the knee is.
    asymmetry
        0 (odd) to 1.

    Returns
    -------
    Signal
        The same shape, within −1.3 to 1.
    """
    if not asymmetry:
        return np.tanh(signal)
    bias = 0.3 * asymmetry
    moved = signal + bias
    scale = np.where(moved < 0.0, 1.0 + asymmetry, 1.0)
    out: Signal = np.tanh(moved * scale) / scale - np.tanh(bias)
    return out


def even_level(*, drive: float, asymmetry: float) -> float:
    """Return the gain after the curve that gives playing at −18 dBFS its level back.

    The mean square of the curve over a Laplace distribution of that RMS (amplitudes of music are
    more peaked than Gaussian: common practice, no source), its direct current taken off.
    """
    at = np.linspace(-12.0, 12.0, 4801)
    weight = np.exp(-np.sqrt(2.0) * np.abs(at))
    weight /= weight.sum()
    out = saturate(at * (_PLAYED_RMS * drive), asymmetry=asymmetry)
    mean = float(weight @ out)
    return _PLAYED_RMS / float(np.sqrt(weight @ (out - mean) ** 2))


class Saturation:
    """Drive, curve and level at four times the rate."""

    def __init__(self, *, drive_db: float, asymmetry: float, latency: int) -> None:
        self._drive = ratio_from_db(drive_db)
        self._asymmetry = asymmetry
        self._level = even_level(drive=self._drive, asymmetry=asymmetry)
        self._oversampler = Oversampler(latency=latency)

    def process(self, signal: Signal) -> Signal:
        """Return `signal` of shape (frames,) saturated, late by the latency."""
        up = self._oversampler.up(signal)
        up *= self._drive
        out = saturate(up, asymmetry=self._asymmetry)
        out *= self._level
        return self._oversampler.down(out)


class Amplifier:
    """The amplifier of a wiring, speaker excluded."""

    def __init__(self, amp: Amp, *, rate: int) -> None:
        self.latency = 0 if amp.clean else LATENCY
        self._saturation = (
            None
            if amp.clean
            else Saturation(drive_db=amp.drive_db, asymmetry=amp.asymmetry, latency=LATENCY)
        )
        self._pole = float(np.exp(-2.0 * np.pi * _BLOCK_HZ / rate))
        self._state = np.zeros(1)

    def process(self, signal: Signal) -> Signal:
        """Return `signal` of shape (frames,), amplified, late by `latency` frames."""
        if self._saturation is None:
            return signal
        hot = self._saturation.process(signal)
        gain = (1.0 + self._pole) / 2.0
        out, self._state = lfilter([gain, -gain], [1.0, -self._pole], hot, zi=self._state)
        return np.asarray(out, dtype=np.float64)
