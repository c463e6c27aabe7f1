"""Where music begins in a recording: the response from the driven DI to it, and where that begins.

All attacks together give the response at the full rate: cross-spectrum over auto-spectrum, each attack
weighted by the recording's own power around each frequency, so that where the amp is loud the notes fill
each other's gaps and where there is only noise the strong attacks count most; what is not coherent is noise
(Bendat and Piersol, *Random Data*, on frequency response functions; from memory). The amp's curve is found
by that, too: the one behind which most of the recording is coherent. What is left is a loudspeaker's
response, as a click's is, and begins where `audio.measure.first_arrival` says.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import fft

from audio.measure.fades import DIRECT, direct_sound, faded_ends
from audio.measure.first_arrival import FirstArrival, first_arrival, of_direct_sound
from audio.measure.minimum_phase import Sent, smooth
from audio.measure.pooled import mean_around
from audio.measure.spread import spread
from audio.measure.tape import piece_of
from audio.measure.whitened import RAMP_S, RING_S
from audio.vocab.units import ratio_from_db

Untold = Literal["noisy", "wet"]
"""Why there is no first arrival: too little stands out of the noise; no part of what came back is first."""

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audio.measure.fades import Window
    from audio.measure.strikes import Strike
    from audio.measure.whitened import Geometry

    Bins = NDArray[np.complex128]
    Reals = NDArray[np.float64]

_SURE = (4.0, 2.5, 8.0)
"""Power over noise from which a bin counts as measured, as `first_arrival` wants it. Attacks are many, so
the noise is known better than a click's."""
_COLOUR_OCTAVES = 1.0 / 3.0
_NOISE_OCTAVES = 1.0 / 12.0
_FAR_S = 0.004
"""How far from where the attacks were put the response's peak may lie."""
_PEAK_HZ = (80.0, 200.0, 6000.0, 8000.0)
"""A loudspeaker's band: what its peak is looked for in."""
_SPEAKER_HZ = (100.0, 300.0, 5000.0, 7000.0)
_RUMBLE_HZ = (40.0, 120.0)
_DIRECT = 0.45
"""Share of the response's power that its direct sound must hold: with echoes or reverb beside it it holds
two thirds and more, where all is reverb a quarter and less."""

_LISTENED = 32
"""Attacks by which the curve is chosen."""
_CURVE_HZ = (300.0, 12_000.0)
_DRIVE_STEP_DB, _BIAS_STEP = 2.0, 0.4
_ROUNDS = 4
"""Each round halves the steps."""


def arrival_of(
    strikes: Sequence[Strike], late: Reals, shape: Geometry, *, gain: float
) -> FirstArrival | Untold:
    """Find where the response from DI to recording begins.

    Parameters
    ----------
    strikes
        Attacks that were found, 2 or more.
    late
        (strikes,) · frames by which the recording is later than the DI at each, to within 4 ms.
    shape
        Of their stretches.
    gain
        Linear, roughly: 1 over it is the level at which the amp's curve bends.

    Returns
    -------
    FirstArrival | Untold
        In frames after `late`; or why there is none.
    """
    sounds = _Sounds.of(strikes, late, shape)
    pooled = sounds.pooled(*_curve(sounds, gain))
    if pooled.direct_share() < _DIRECT:
        return "wet"
    return of_direct_sound(pooled.begins) or "noisy"


@dataclass(frozen=True, kw_only=True)
class _Sounds:
    """Stretches of the DI, and the spectra of what came back of each, put in place."""

    di: Reals
    """(strikes, stretch)."""
    ramp: NDArray[np.float32]
    recording: Bins
    """(strikes, bins)."""
    weight: Reals
    """(strikes, bins) · one over the recording's smoothed power."""
    power: Reals
    """(strikes, bins) · the recording's, weighted."""
    rate: int

    @classmethod
    def of(cls, strikes: Sequence[Strike], late: Reals, shape: Geometry) -> _Sounds:
        size = _size(shape)
        recording = np.empty((len(strikes), size // 2 + 1), dtype=np.complex128)
        fade = faded_ends(shape.stretch + _ring(shape), round(RAMP_S * shape.rate))
        for row, (strike, lag) in enumerate(zip(strikes, late, strict=True)):
            whole = int(np.floor(lag))
            first = whole - strike.offset + shape.reach * shape.step
            piece = piece_of(strike.heard, first, fade.size) * fade
            recording[row] = fft.rfft(piece, size) * _turn(size, whole - lag)
        power = np.square(np.abs(recording))
        near = mean_around(power, rate=shape.rate)
        tops = np.max(near, axis=1, keepdims=True)
        least = 1e-6 * tops + 1e-9 * np.max(tops) + np.finfo(np.float32).tiny
        weight = 1.0 / (near + least)
        return cls(
            di=np.stack([one.di for one in strikes]).astype(np.float64),
            ramp=shape.ramp,
            recording=recording,
            weight=weight,
            power=weight * power,
            rate=shape.rate,
        )

    def played(self, gain: float, bias: float) -> Bins:
        """Return the spectra of the DI behind a curve that bends at 1 over `gain`, off its middle."""
        bent = (np.tanh(gain * self.di + bias) - np.tanh(bias)) * self.ramp
        return np.asarray(fft.rfft(bent, 2 * (self.recording.shape[1] - 1), axis=1))

    def some(self, count: int) -> _Sounds:
        """Return so many of them, spread over all of the music."""
        rows = spread(len(self.di), count)
        return replace(
            self,
            di=self.di[rows],
            recording=self.recording[rows],
            weight=self.weight[rows],
            power=self.power[rows],
        )

    def coherence(self, gain: float, bias: float) -> float:
        """Return how much of the recording follows the DI behind a curve: nepers, over the octaves."""
        played = self.played(gain, bias)
        cross, auto = self._sums(played)
        total = np.sum(self.power, axis=0)
        hz = np.arange(auto.size) * (0.5 * self.rate / (auto.size - 1))
        used = (hz > _CURVE_HZ[0]) & (hz < _CURVE_HZ[1])
        left = 1.0 - np.square(np.abs(cross[used])) / (auto[used] * total[used])
        return -float(np.average(np.log(left + 1e-9), weights=1.0 / hz[used]))

    def pooled(self, gain: float, bias: float) -> _Pooled:
        """Return the response behind a curve."""
        played = self.played(gain, bias)
        cross, auto = self._sums(played)
        left = np.maximum(np.sum(self.power, axis=0) - np.square(np.abs(cross)) / auto, 0.0)
        colour = smooth(np.mean(np.square(np.abs(played)), axis=0), octaves=_COLOUR_OCTAVES)
        sent = np.sqrt(colour / np.max(colour))
        return _Pooled(
            response=cross / auto,
            noise=left / max(len(self.di) - 1, 1) / auto,
            sent=sent,
            rate=self.rate,
        )

    def _sums(self, played: Bins) -> tuple[Bins, Reals]:
        """Return cross-spectrum and auto-spectrum, (bins,) each."""
        cross = np.sum(self.weight * np.conj(played) * self.recording, axis=0)
        auto = np.sum(self.weight * np.square(np.abs(played)), axis=0)
        return cross, auto + 1e-12 * np.max(auto) + np.finfo(float).tiny


@dataclass(frozen=True, kw_only=True)
class _Pooled:
    """A response, (bins,) each, column 0 where the attacks were put."""

    response: Bins
    noise: Reals
    """Variance of the response."""
    sent: Reals
    """Smooth magnitude of what was played, 1 at most: in its colour the response is looked at, so that
    what the DI hardly holds does not drown the rest."""
    rate: int

    @property
    def size(self) -> int:
        """Frames of the transform."""
        return 2 * (self.sent.size - 1)

    @property
    def hz(self) -> NDArray[np.floating]:
        """(bins,)."""
        return np.arange(self.sent.size) * (self.rate / self.size)

    @cached_property
    def peak(self) -> int:
        """Column of the response's peak, all frequencies of a loudspeaker counting alike."""
        white = self.response / (np.abs(self.response) + np.finfo(float).tiny)
        curve = np.abs(self._in_time(white, _PEAK_HZ, (0.0, 1.0, 1.0, 0.0)))
        far = round(_FAR_S * self.rate)
        return int(np.argmax(np.concatenate((curve[-far:], curve[: far + 1])))) - far

    def begins(self, window: Window) -> FirstArrival | None:
        """Return where it begins, seen through a window."""
        weights, before = direct_sound(window, rate=self.rate)
        coloured = self._in_time(self.response * self.sent, _RUMBLE_HZ, (0.0, 1.0))
        piece = coloured[self._columns(weights.size, before)] * weights
        noise = smooth(self.noise * np.square(self.sent), octaves=_NOISE_OCTAVES)
        found = first_arrival(
            fft.rfft(piece, self.size) * _turn(self.size, -float(before)),
            noise * float(weights @ weights) / self.size,
            (Sent.of(self.sent, rate=self.rate),),
            rate=self.rate,
            sure=(_SURE,),
        )
        return None if found is None else replace(found, at=found.at + self.peak)

    def direct_share(self) -> float:
        """Return the direct sound's share of the response's power, 0 to 1, in a loudspeaker's band."""
        coloured = self._in_time(self.response * self.sent, _SPEAKER_HZ, (0.0, 1.0, 1.0, 0.0))
        power = np.square(coloured)
        weights, before = direct_sound(DIRECT, rate=self.rate)
        direct = power[self._columns(weights.size, before)]
        return float(np.sum(direct) / (np.sum(power) + np.finfo(float).tiny))

    def _in_time(
        self, spectrum: Bins, edges_hz: tuple[float, ...], gains: tuple[float, ...]
    ) -> Reals:
        """Return (size,) of a spectrum within a band, given by the gains at its edges."""
        return np.asarray(fft.irfft(spectrum * np.interp(self.hz, edges_hz, gains), self.size))

    def _columns(self, frames: int, before: int) -> NDArray[np.int64]:
        """Return the columns of so many frames, the peak behind `before` of them."""
        return np.asarray((np.arange(frames) - before + self.peak) % self.size)


def _curve(sounds: _Sounds, gain: float) -> tuple[float, float]:
    """Return gain and bias of the curve behind which most is coherent, begun from a rough gain."""
    few = sounds.some(_LISTENED)
    bias, step_db, step = 0.0, _DRIVE_STEP_DB, _BIAS_STEP
    tried: dict[tuple[float, float], float] = {}
    for _ in range(_ROUNDS):
        ways = (ratio_from_db(-step_db), 1.0, ratio_from_db(step_db))
        for times, more in product(ways, (-step, 0.0, step)):
            at = (gain * times, bias + more)
            if at not in tried:
                tried[at] = few.coherence(*at)
        gain, bias = max(tried, key=lambda one: tried[one])
        step_db, step = 0.5 * step_db, 0.5 * step
    return gain, bias


def _ring(shape: Geometry) -> int:
    """Return the frames for which a recorded stretch rings on."""
    return round(RING_S * shape.rate)


def _size(shape: Geometry) -> int:
    """Return the frames of the transform: a power of two that holds a stretch and its ring."""
    return 1 << (shape.stretch + _ring(shape)).bit_length()


def _turn(size: int, late: float) -> Bins:
    """Return (bins,) of what makes a transform of `size` so many frames later."""
    return np.asarray(np.exp(-2j * np.pi * late / size * np.arange(size // 2 + 1)))
