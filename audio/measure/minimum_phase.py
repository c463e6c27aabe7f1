"""The response of least delay that a measured magnitude belongs to.

A loudspeaker with a microphone before it is minimum phase to good approximation (common practice, no
source), and so are reflections weaker than the direct sound. The magnitude of such a response can be
measured without knowing its delay, and log magnitude and phase are Hilbert transforms of each other
(Oppenheim and Schafer, *Discrete-Time Signal Processing*, on the cepstrum; from memory).

Where the magnitude is under the noise it is continued as guitar loudspeakers fall. How much delay of the
frequencies below hangs on that is told, for it cannot be known better.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audio.measure import gauss

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Reals = NDArray[np.float64]

LOWEST_HZ = 150.0
HIGHEST_HZ = 20_000.0
_OF_RATE = 0.46
_WIDEST_GAP_HZ = 600.0
_WIDEST_GAP_SHARE = 0.15
"""A notch this wide, in hertz or of its own frequency, does not end the band that counts as measured."""
_FEWEST = 8
_DIP = 0.25
"""A bin at which what was sent has less than this share of the RMS around it tells nothing of the path."""
_DIP_OCTAVES = 0.5
_HALF_BELIEVED = 20.0
_OCTAVES_FOR_LEVEL = 0.6
"""The line through this much of the measured band's end says where the continued magnitude begins."""
_FALLS_HZ, _FALLS, _ENDS = 5000.0, 10, 1e-5
"""A guitar loudspeaker falls from about here on, by 30 dB an octave, and ends in breakup and leakage 50 dB
down (common practice, no source)."""
_BASS_HZ, _BASS_FALLS = 85.0, 4
"""Towards the bass it falls from its resonance on, by 12 dB an octave (common practice, no source)."""
_FLAT_HZ, _UNEVEN = (4000.0, 5500.0), (0.2, 0.1)
"""What is measured up to there and is no more uneven, in nepers, is no loudspeaker and does not fall: both
surely so at the second of two, surely not at the first."""


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What a spectrum shows of a path: smoothed power, noise, and the frequencies of its bins."""

    power: Reals
    noise: Reals
    hz: NDArray[np.floating]
    rate: int

    @cached_property
    def level(self) -> Reals:
        """Log magnitude without the noise, nepers."""
        clean = np.maximum(self.power - self.noise, 1e-3 * self.power) + np.finfo(float).tiny
        return np.asarray(0.5 * np.log(clean))

    @cached_property
    def trust(self) -> Reals:
        """How far what a bin shows is believed beyond the measured band, 0 to 1.

        Power over noise against what half is believed of: a hard end would move with every noise.
        """
        over = np.maximum(self.power / self.noise - 1.0, 0.0)
        return np.asarray(over / (over + _HALF_BELIEVED))

    @cached_property
    def bass(self) -> Reals:
        """The usual fall of a guitar loudspeaker towards the bass, nepers."""
        power = 1.0 / (1.0 + (_BASS_HZ / np.maximum(self.hz, 1.0)) ** _BASS_FALLS) + _ENDS
        return np.asarray(0.5 * np.log(power))

    @cached_property
    def usual(self) -> Reals:
        """The usual fall of a guitar loudspeaker, nepers."""
        power = 1.0 / (1.0 + (self.hz / _FALLS_HZ) ** _FALLS) + _ENDS
        return np.asarray(0.5 * np.log(power))


@dataclass(frozen=True, kw_only=True)
class Sent:
    """The spectrum of what may have been sent, and what of it tells something of a path."""

    spectrum: Reals
    """(bins,) · real: it is symmetric."""
    level: Reals
    """Log magnitude, nepers."""
    usable: NDArray[np.bool_]
    """Whether a bin lies inside the band and something was sent there."""

    @classmethod
    def of(cls, spectrum: Reals, *, rate: int) -> Sent:
        """Return what there is to know of a (bins,) spectrum, an even transform's half."""
        size = np.abs(spectrum)
        hz = np.fft.rfftfreq(2 * (spectrum.size - 1), 1.0 / rate)
        around = np.sqrt(smooth(spectrum * spectrum, octaves=_DIP_OCTAVES))
        inside = (hz >= LOWEST_HZ) & (hz < min(_OF_RATE * rate, HIGHEST_HZ))
        return cls(
            spectrum=spectrum,
            level=np.log(np.maximum(size, 1e-6 * np.max(size))),
            usable=np.asarray(inside & (size > _DIP * around)),
        )


@dataclass(frozen=True, kw_only=True)
class LeastPhase:
    """The response with the measured magnitude and the least delay, times what was sent."""

    spectrum: NDArray[np.complex128]
    low: int
    """First bin that was measured."""
    high: int
    """Last one."""
    unseen_frames: float
    """How much delay the continued fall brought, against a magnitude that falls no more."""


def smooth(values: Reals, *, octaves: float) -> Reals:
    """Return each value's mean over bins up to so many octaves below and above it."""
    summed = np.concatenate(([0.0], np.cumsum(values)))
    at = np.arange(values.size)
    low = np.floor(at * 2.0**-octaves).astype(np.int64)
    high = np.minimum(np.ceil(at * 2.0**octaves).astype(np.int64) + 1, values.size)
    return np.asarray((summed[high] - summed[low]) / (high - low))


def least_phase(seen: Seen, sent: Sent, *, sure: float) -> LeastPhase | None:
    """Return the response of least delay behind a spectrum.

    Parameters
    ----------
    seen
        Of what came back.
    sent
        What may have been sent.
    sure
        Power over noise, linear, from which a bin counts as measured.

    Returns
    -------
    LeastPhase | None
        None where too little stands out of the noise.
    """
    measured = _measured(seen, sent.usable, sure=sure)
    if measured is None:
        return None
    good, low, high = measured
    shown = seen.level - sent.level
    log = shown.copy()
    log[:low] = log[low] + seen.bass[:low] - seen.bass[low]
    inside = np.arange(low, high + 1)
    log[low : high + 1] = np.interp(inside, good, log[good])
    unseen = _continue(log, low, high, seen)
    above = slice(high + 1, None)
    believed = np.where(sent.usable[above], seen.trust[above], 0.0)
    log[above] += believed * (shown[above] - log[above])
    return LeastPhase(
        spectrum=causal(log) * sent.spectrum, low=low, high=high, unseen_frames=unseen
    )


def _measured(
    seen: Seen, usable: NDArray[np.bool_], *, sure: float
) -> tuple[NDArray[np.int64], int, int] | None:
    """Return the bins that count, the first and the last of them."""
    clear = seen.power > (1.0 + sure) * seen.noise
    bins = np.flatnonzero(clear & usable)
    if bins.size < _FEWEST:
        return None
    gap = np.maximum(_WIDEST_GAP_HZ / seen.hz[1], _WIDEST_GAP_SHARE * bins[:-1])
    wide = np.flatnonzero(np.diff(bins) > gap)
    good = bins[: wide[0] + 1] if wide.size else bins
    return (good, int(good[0]), int(good[-1])) if good.size >= _FEWEST else None


def _continue(log: Reals, low: int, high: int, seen: Seen) -> float:
    """Continue a log magnitude above its last measured bin, in place; return the delay of doing so."""
    start = max(low, int(high / 2.0**_OCTAVES_FOR_LEVEL))
    level = float(log[high])
    if high - start >= 2:
        octaves = np.log2(seen.hz[start : high + 1] / seen.hz[high])
        least = np.finfo(float).tiny
        over = seen.power[start : high + 1] / np.maximum(seen.noise[start : high + 1], least)
        weight = np.sqrt(np.clip((over - 1.0) / 8.0, 1e-3, 1.0))
        level = _line_ends(octaves, log[start : high + 1], weight * weight)
    above = seen.hz[high + 1 :]
    inside = log[low : high + 1]
    uneven = float(np.median(np.abs(inside - np.median(inside)))) / gauss.MEDIAN
    fall = seen.usual[high + 1 :] - seen.usual[high]
    fall *= 1.0 - _share(float(seen.hz[high]), _FLAT_HZ) * _share(uneven, _UNEVEN)
    log[high + 1 :] = level + fall
    return _delay_of(fall, above / seen.rate)


def _share(value: float, ends: tuple[float, float]) -> float:
    """Return how far a value is from the first of two on its way to the second, 0 to 1."""
    first, second = ends
    return float(np.clip((value - first) / (second - first), 0.0, 1.0))


def _line_ends(at: NDArray[np.floating], values: Reals, weight: Reals) -> float:
    """Return where the line of least weighted squares through some values stands at 0."""
    middle = float(weight @ at) / float(np.sum(weight))
    mean = float(weight @ values) / float(np.sum(weight))
    aside = weight * (at - middle)
    return mean - middle * float(aside @ values) / float(aside @ at)


def _delay_of(fall: Reals, turns: NDArray[np.floating]) -> float:
    """Return the frames by which a fall delays what lies far below it: nepers, at turns a frame.

    The Hilbert relation at low frequency: 2/π times the integral of the attenuation over the frequency
    squared.
    """
    if turns.size < 2:
        return 0.0
    omega = 2.0 * np.pi * turns
    return float(-2.0 / np.pi * np.sum(fall / omega**2) * (omega[1] - omega[0]))


def causal(log: Reals) -> NDArray[np.complex128]:
    """Return the response of least delay of a log magnitude: its cepstrum, folded onto its causal half."""
    size = 2 * (log.size - 1)
    cepstrum = np.fft.irfft(log, size)
    cepstrum[1 : size // 2] *= 2.0
    cepstrum[size // 2 + 1 :] = 0.0
    return np.exp(np.fft.rfft(cepstrum))
