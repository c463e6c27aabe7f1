"""A recording cut into moments: its spectrum in each, its power in third-octave bands, its noise.

Moments are Hann windows of a twelfth of a second, half over each other. Levels are compared moment by
moment and averaged in decibels, so that a short loud chord counts no more than the second in which it dies,
and a tremolo that stands elsewhere in each take averages out. Power is compared, never one signal's share
in the other: a chain that moves by itself shares less than all, though it is as loud.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.thirds import edges_hz, shares, thirds_between

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

_SIZE = 4096
"""Frames of a moment at 48 kHz."""

NOMINAL_HZ = thirds_between(100.0, 5000.0)
"""The bands of a moment. The lowest three are blurred: a moment tells frequencies apart by 12 Hz."""

_HIGHEST_HZ = edges_hz(NOMINAL_HZ[-1])[1]
"""Where the highest band ends."""

REST_DB = 40.0
"""How far under its loudest moment the DI must be to rest; else it plays (common practice, no source)."""
_RUNG_OUT = 4
"""Moments for which the DI must have rested: a sixth of a second."""
_FEWEST_RESTS = 8
CLEAR = 10.0
"""Power over the noise's from which on a level counts: noise taken off it is wrong by some tenths of a dB
in one moment, and by hundredths in their mean."""
_LEAST = 1e-30


@dataclass(frozen=True)
class Moments:
    """A recording, moment by moment."""

    spectra: NDArray[np.complex64]
    """(moments, bins) up to the highest band's end."""
    whole: Floats
    """(moments,) mean square over the full band."""
    bands: Floats
    """(moments, bands) mean square in each third-octave band."""

    @property
    def power(self) -> Floats:
        """(moments,) mean square of all bands together."""
        return np.asarray(np.sum(self.bands, axis=1))


@dataclass(frozen=True)
class Noise:
    """What a recording holds where the DI rests; zeros where it never does."""

    whole: float
    """Mean square over the full band."""
    bins: Floats
    """(bins,) mean square."""
    bands: Floats
    """(bands,) mean square."""


def size_at(rate: int) -> int:
    """Return the frames of a moment at `rate` frames a second."""
    return int(_SIZE * 2 ** max(0, round(float(np.log2(rate / 48_000)))))


def bin_hz(rate: int) -> Floats:
    """Return the frequency of each bin of a moment's spectrum, (bins,)."""
    hz = fft.rfftfreq(size_at(rate), 1.0 / rate)
    return np.asarray(hz[: int(np.searchsorted(hz, _HIGHEST_HZ)) + 2])


def moments(signal: NDArray[np.floating], *, rate: int, thin: int = 1) -> Moments:
    """Cut a (frames,) signal into moments, of which each `thin`-th is kept; it must be as long as one."""
    size = size_at(rate)
    # Single precision: its rounding lies 140 dB under the signal, and takes half the time.
    pieces = np.lib.stride_tricks.sliding_window_view(signal.astype(np.float32), size)
    window = np.hanning(size).astype(np.float32)
    window /= np.float32(size * np.sqrt(np.mean(window**2) / 2.0))
    cut = pieces[:: thin * (size // 2)] * window
    # A copy, so that what lies above does not stay in memory.
    spectra = fft.rfft(cut, axis=1)[:, : bin_hz(rate).size].copy()
    whole = np.einsum("mf,mf->m", cut, cut) * np.float32(size / 2.0)
    return Moments(spectra, whole.astype(np.float64), _in_bands(squared(spectra), rate))


def plays(di: Moments) -> Bools:
    """Return in which moments the DI plays, (moments,)."""
    return np.asarray(di.whole > np.max(di.whole) * 10.0 ** (-REST_DB / 10.0))


def rests(di: Moments, heard: Sequence[Moments]) -> Bools:
    """Return in which moments only noise is heard, (moments,).

    The quieter half, by all recordings together, of those in which the DI has rested for a while: what
    still rings is in the other half, or alike in all.
    """
    loud = plays(di)
    rested = ~loud
    for back in range(1, _RUNG_OUT):
        rested[back:] &= ~loud[:-back]
    if np.count_nonzero(rested) < _FEWEST_RESTS:
        return np.zeros(loud.size, dtype=bool)
    together = np.sum([level_db(one.power) for one in heard], axis=0)
    return np.asarray(rested & (together <= np.median(together[rested])))


def noise(one: Moments, resting: Bools) -> Noise:
    """Return what a recording holds in the moments in which the DI rests."""
    if not np.any(resting):
        return Noise(0.0, np.zeros(one.spectra.shape[1]), np.zeros(one.bands.shape[1]))
    return Noise(
        float(np.mean(one.whole[resting])),
        np.mean(squared(one.spectra[resting]), axis=0, dtype=np.float64),
        np.mean(one.bands[resting], axis=0),
    )


def level_db(power: NDArray[np.floating]) -> Floats:
    """Return mean squares of any shape in dB; what is no power at all counts as very little."""
    return np.asarray(10.0 * np.log10(np.maximum(power, _LEAST)))


def squared(spectra: NDArray[np.complexfloating]) -> NDArray[np.floating]:
    """Return the squared magnitude of spectra of any shape."""
    return np.asarray(spectra.real**2 + spectra.imag**2)


def _in_bands(power: NDArray[np.floating], rate: int) -> Floats:
    return np.asarray(power @ _shares(rate), dtype=np.float64)


@lru_cache(maxsize=4)
def _shares(rate: int) -> NDArray[np.float32]:
    """Return which share of a bin lies in a band, (bins, bands)."""
    return shares(bin_hz(rate), NOMINAL_HZ, bin_hz=rate / size_at(rate)).astype(np.float32)
