"""Streaming delay and convolution: the tools everything in the room is made of.

Signals are float64, full scale 1.0, arrays of shape (channels, frames) or (frames,). Every object keeps
its own past, so that the same signal comes out however it is cut into blocks.
"""

from __future__ import annotations

import cmath
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Signal = NDArray[np.float64]

HALF = 40
"""Frames of sinc on either side of the centre."""
SINC_LATENCY = HALF - 1
"""Whole frames a fractional kernel is late by, to be taken out of the delay it belongs to."""
_BETA = 11.7
"""Kaiser's window: 80 taps with this beta keep the error of a delay under −110 dB up to 20 kHz at
44.1 kHz (Kaiser's design formulas; checked by the tests with a discrete Fourier transform)."""
_WHOLE = 1e-9
"""Frames within which a delay counts as whole."""

_NOTHING = 1e-18
"""Power of a pole from which on it adds less than rounding does."""
_SHORT = 128
"""Taps up to which a single convolution is done directly."""

OVERSAMPLING = 4


def split_delay(frames: float) -> tuple[int, float]:
    """Return a delay as whole frames and a fraction in 0 ≤ fraction < 1; near-whole ones are whole."""
    nearest = round(frames)
    if abs(frames - nearest) < _WHOLE:
        return nearest, 0.0
    whole = int(np.floor(frames))
    return whole, frames - whole


def fractional_kernel(fraction: float) -> Signal:
    """Return the impulse response that delays by `SINC_LATENCY` + `fraction` frames.

    A sinc under a Kaiser window, both centred on the exact fraction, so that the delay is the same
    at every frequency.

    Parameters
    ----------
    fraction
        Frames, 0 ≤ fraction < 1.

    Returns
    -------
    Signal
        Shape (2 · `HALF`,), gain 1.
    """
    at = np.arange(2 * HALF) - SINC_LATENCY - fraction
    return np.asarray(np.sinc(at) * kaiser(at / HALF, beta=_BETA), dtype=np.float64)


def kaiser(at: Signal, *, beta: float) -> Signal:
    """Return Kaiser's window at positions −1 to 1 (Kaiser 1974, I0-sinh window)."""
    inside = np.sqrt(np.maximum(0.0, 1.0 - at * at))
    return np.asarray(np.i0(beta * inside) / np.i0(beta), dtype=np.float64)


class Delay:
    """A whole number of frames, bit for bit."""

    def __init__(self, frames: int) -> None:
        self._line = np.zeros(frames)

    def process(self, signal: Signal) -> Signal:
        """Return `signal` of shape (frames,), late by the delay."""
        joined = np.concatenate((self._line, signal))
        self._line = joined[signal.size :]
        return joined[: signal.size]


class Pole:
    """A recursion y[n] = x[n] + pole · y[n − 1] over the last axis, |pole| < 1.

    By doubling: each step adds what lies 1, 2, 4 … frames back, so that nine array operations do 512
    frames. (A general library has the same filter, but takes a second and more to load.)
    """

    def __init__(self, pole: complex, *, rows: int | None = None) -> None:
        self._pole = pole.real if pole.imag == 0.0 else pole
        self._last: Any = 0.0 if rows is None else np.zeros(rows)

    def process(self, signal: NDArray[Any]) -> NDArray[Any]:
        """Return the filtered signal, complex where the pole is."""
        out = signal.astype(np.result_type(signal, self._pole))
        if not signal.shape[-1]:
            return out
        out[..., 0] += self._pole * self._last
        back, power = 1, self._pole
        while back < out.shape[-1] and abs(power) > _NOTHING:
            out[..., back:] += power * out[..., :-back]
            back, power = 2 * back, power * power
        self._last = out[..., -1].copy()
        return out


class Coupling:
    """A coupling capacitor: takes direct current away, gain 1 far above its corner."""

    def __init__(self, *, hz: float, rate: int) -> None:
        pole = pole_at(hz, rate=rate)
        self._pole = Pole(pole)
        self._gain = (1.0 + pole) / 2.0
        self._before = np.zeros(1)

    def process(self, signal: Signal) -> Signal:
        """Return shape (frames,) without its direct current."""
        joined = np.concatenate((self._before, signal))
        self._before = joined[-1:]
        return self._pole.process(np.diff(joined) * self._gain)


class Loss:
    """A first-order loss of highs: −3 dB at `hz`, 6 dB an octave beyond, as a long cable makes it."""

    def __init__(self, *, hz: float, rate: int) -> None:
        """Place the pole by the bilinear transform, the corner exactly at `hz`."""
        corner = math.tan(math.pi * hz / rate)
        self._pole = Pole((1.0 - corner) / (1.0 + corner))
        self._gain = corner / (1.0 + corner)
        self._before = np.zeros(1)

    def process(self, signal: Signal) -> Signal:
        """Return `signal` with less highs, shape (frames,) both."""
        joined = np.concatenate((self._before, signal))
        self._before = joined[-1:]
        return self._pole.process((joined[1:] + joined[:-1]) * self._gain)


class Band:
    """The band-pass of a state-variable filter: a pair of poles, `gain` at its middle."""

    def __init__(self, *, hz: float, q: float, gain: float, rate: int) -> None:
        """Place the poles by the bilinear transform, the middle exactly at `hz`."""
        turn = 2.0 * math.pi * hz / rate
        slack = math.sin(turn) / (2.0 * q)
        self._gain = slack * gain / (1.0 + slack)
        middle, square = math.cos(turn) / (1.0 + slack), (1.0 - slack) / (1.0 + slack)
        apart = cmath.sqrt(middle * middle - square)
        self._poles = (Pole(middle + apart), Pole(middle - apart))
        self._before = np.zeros(2)

    def process(self, signal: Signal) -> Signal:
        """Return the band of `signal`, shape (frames,) both."""
        joined = np.concatenate((self._before, signal))
        self._before = joined[-2:]
        edges = (joined[2:] - joined[:-2]) * self._gain
        return self._poles[1].process(self._poles[0].process(edges)).real


def pole_at(hz: float, *, rate: int) -> float:
    """Return the pole of a first-order filter with its corner at `hz`."""
    return math.exp(-2.0 * math.pi * hz / rate)


class Convolver:
    """A matrix of finite impulse responses; no delay of its own.

    A single short one directly, others by overlap-save: measured, that is the faster way for each.
    """

    def __init__(self, kernels: Signal) -> None:
        """Take impulse responses of shape (outputs, inputs, taps)."""
        self._kernels = kernels
        self._past = np.zeros((kernels.shape[1], kernels.shape[2] - 1))
        self._spectra: dict[int, NDArray[np.complex128]] = {}
        self._direct = kernels.shape[:2] == (1, 1) and kernels.shape[2] <= _SHORT

    def process(self, signal: Signal) -> Signal:
        """Return the sum over the inputs: shape (inputs, frames) becomes (outputs, frames)."""
        past, frames = self._past.shape[1], signal.shape[1]
        joined = np.concatenate((self._past, signal), axis=1)
        self._past = joined[:, frames:].copy()
        if self._direct:
            return np.convolve(joined[0], self._kernels[0, 0], mode="valid")[None, :]
        size = fft.next_fast_len(joined.shape[1], real=True)
        spectrum = fft.rfft(joined, size, axis=1)
        summed = (self._spectra_for(size) * spectrum).sum(axis=1)
        full: Signal = fft.irfft(summed, size, axis=1, overwrite_x=True)
        return full[:, past : past + frames]

    def _spectra_for(self, size: int) -> NDArray[np.complex128]:
        if size not in self._spectra:
            self._spectra[size] = fft.rfft(self._kernels, size, axis=2)
        return self._spectra[size]


class Oversampler:
    """Linear-phase filters up to four times the rate and back down; late by `latency` frames."""

    def __init__(self, *, latency: int) -> None:
        """Design both filters: a sinc that cuts at half the rate, under a Kaiser window.

        One prototype of 4 · `latency` + 1 taps serves both ways; up and down again its two centres
        are exactly `latency` frames late. Longer ones are flat further up.
        """
        self.latency = latency
        reach = OVERSAMPLING * latency // 2
        at = np.arange(-reach, reach + 1)
        prototype = np.sinc(at / OVERSAMPLING) * kaiser(at / (reach + 1), beta=10.0)
        prototype = np.append(prototype, np.zeros(OVERSAMPLING - 1))
        self._up = Convolver(prototype.reshape(-1, OVERSAMPLING).T[:, None, :].copy())
        self._down = Convolver(_down_kernels(prototype / OVERSAMPLING))

    def up(self, signal: Signal) -> Signal:
        """Return shape (frames,) as (4, frames): row *j* holds every fourth frame from *j* on."""
        return self._up.process(signal[None, :])

    def down(self, signal: Signal) -> Signal:
        """Return shape (4, frames) as (frames,) at the room's rate."""
        out: Signal = self._down.process(signal)[0]
        return out


def _down_kernels(prototype: Signal) -> Signal:
    """Return (1, 4, taps): row *j* meets tap 4·m − j of the prototype at frame *m*."""
    rows = [np.append(np.zeros(j), prototype)[: prototype.size] for j in range(OVERSAMPLING)]
    return np.stack([row[::OVERSAMPLING] for row in rows])[None, :, :]
