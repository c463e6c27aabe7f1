"""Two recordings of one sound: how far they lie apart, and how much of one no filter makes of the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.moments import Moments, Noise, bin_hz, squared
from audio.vocab.alignment import Polarity

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

REACH_S = 0.050
"""Furthest that the two may lie apart."""
_LOW_HZ, _HIGH_HZ = 100.0, 5000.0
_STRETCH = 16_384
"""Frames at 48 kHz."""
_MOST_WEIGHT = 1e4
"""Of one frequency in the delay's fit: a share of 0.9999 in common; more of it is not believed."""
_CLEAN = 0.05
"""Noise over the power up to which a frequency is asked for what no filter explains: mains lines stand
alike in every moment, so that they do not average out as noise does."""
_HIDDEN = 0.3
"""Share of the noise that what is left is not known better than: half a second of rest tells the noise of
all frequencies together to some percent, but there are lines among them."""
_SURE = 0.1
"""Share in common under which two recordings are not of one sound: unlike music shares some percent over
three hundred moments by chance."""
_LEAST = 1e-30


@dataclass(frozen=True)
class Common:
    """What the second of two recordings, brought onto the first's frames, has in common with it."""

    later_frames: float
    """What it is still later by: less than a frame."""
    polarity: Polarity
    share: float
    """Of the power, each frequency alike, that the two have in common; 0 to 1."""
    bent: float
    """Share of the second's power, noise taken off, that no filter makes of the first; at least what the
    noise hides."""


def whole_lag(first: Floats, second: Floats, *, rate: int) -> int:
    """Return by how many whole frames the second recording is later, at most `REACH_S` either way.

    The highest point, of either sign, of the mean correlation of stretches of a third of a second, from
    100 Hz to 5 kHz, whitened half way, so that no single string rules (Knapp and Carter 1976 whiten it
    all; here both recordings are one sound, and what is weak is mostly noise).
    """
    size = _STRETCH * 2 ** max(0, round(float(np.log2(rate / 48_000))))
    one, other = (fft.rfft(_stretches(signal, size), axis=1) for signal in (first, second))
    cross = np.asarray(np.sum(other * np.conj(one), axis=0, dtype=np.complex128))
    hz = fft.rfftfreq(size, 1.0 / rate)
    inside = (hz >= _LOW_HZ) & (hz <= _HIGH_HZ)
    curve = np.abs(fft.irfft(np.where(inside, cross / np.sqrt(np.abs(cross) + _LEAST), 0.0), size))
    reach = round(REACH_S * rate)
    near = np.concatenate((curve[-reach:], curve[: reach + 1]))
    return int(np.argmax(near)) - reach


def _stretches(signal: Floats, size: int) -> NDArray[np.float32]:
    """Return a signal cut into stretches that rise and fall, (stretches, frames), the last filled up."""
    cut = np.pad(signal.astype(np.float32), (0, -signal.size % size)).reshape(-1, size)
    return np.asarray(cut * np.hanning(size).astype(np.float32))


def moved(signal: Floats, frames: int) -> Floats:
    """Return a (frames,) signal earlier by some whole frames, later where less than 0; silence moves in."""
    if frames >= 0:
        return np.pad(signal[frames:], (0, frames))
    return np.pad(signal[:frames], (-frames, 0))


def common(
    first: Moments, second: Moments, playing: Bools, noises: tuple[Noise, Noise], *, rate: int
) -> Common:
    """Compare two recordings that lie within a frame of each other.

    Parameters
    ----------
    first
        One recording.
    second
        The other.
    playing
        (moments,) where the DI plays.
    noises
        Of both.
    rate
        Frames a second.

    Returns
    -------
    Common
        The delay by the phase of the mean cross-spectrum, each frequency weighted by what it has in common
        over what it has not, which is the inverse variance of its phase (Bendat and Piersol, Random Data,
        chapter on coherence; from memory).
    """
    hz = bin_hz(rate)
    inside = (hz >= _LOW_HZ) & (hz <= _HIGH_HZ)
    one, other = (m.spectra[np.ix_(playing, inside)] for m in (first, second))
    cross = np.asarray(np.mean(other * np.conj(one), axis=0, dtype=np.complex128))
    powers = [
        np.asarray(np.mean(squared(s), axis=0, dtype=np.float64)) + _LEAST for s in (one, other)
    ]
    shared = np.minimum(np.abs(cross) ** 2 / (powers[0] * powers[1]), 1.0)
    weight = np.minimum(shared / (1.0 - shared + 1.0 / _MOST_WEIGHT), _MOST_WEIGHT)
    sign = 1.0 if np.sum(weight * cross.real / (np.abs(cross) + _LEAST)) >= 0.0 else -1.0
    turn = 2.0 * np.pi * hz[inside] / rate
    later = -np.sum(weight * turn * np.angle(sign * cross)) / (np.sum(weight * turn**2) + _LEAST)
    share = float(np.sum(shared * powers[0]) / np.sum(powers[0]))
    heard_noise = (noises[0].bins[inside], noises[1].bins[inside])
    return Common(
        later_frames=float(later),
        polarity="unsure" if share < _SURE else "normal" if sign > 0.0 else "inverted",
        share=share,
        bent=_bent(cross, (powers[0], powers[1]), heard_noise),
    )


def _bent(
    cross: NDArray[np.complex128], powers: tuple[Floats, Floats], noises: tuple[Floats, Floats]
) -> float:
    """Return what the best filter leaves of the second, over the second, noise taken off both."""
    heard = (noises[0] < _CLEAN * powers[0]) & (noises[1] < _CLEAN * powers[1])
    passed = np.abs(cross) ** 2 / powers[0]
    left = float(np.sum((powers[1] - passed)[heard]))
    by_noise = float(np.sum((noises[1] + noises[0] * passed / powers[0])[heard]))
    whole = max(float(np.sum((powers[1] - noises[1])[heard])), _LEAST)
    return max(left - by_noise, _HIDDEN * by_noise, 1e-12 * whole) / whole
