"""How much new sound there is, moment by moment: where a hit is looked for.

The sound is brought to about 24 kHz, cut into windows of 11 ms that overlap, and its power taken in bands
of 200 Hz. What counts is by how much a band rises over the most it and its neighbours held in the 24 ms
before: a period of a low string, two strings that beat, and a bent note all return to what was there; a
struck string does not. (Spectral flux against a maximum over neighbours: Böck and Widmer, "Maximum filter
vibrato suppression for onset detection", DAFx 2013; bands and times are ours.)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy.fft import rfft

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LOWEST_RATE = 22_000
"""Rates are divided down, but not below this: a guitar's DI holds little above 11 kHz."""
_TAPS_A_FACTOR = 8
_HOP_S = 1 / 375
_WINDOW_HOPS = 4
_BANDS = 48
_FROM_HZ, _TO_HZ = 90.0, 9_500.0
_BACK_HOPS = 10
"""Of what went before, hops two to nine count: the last one shares most of its frames with the present, and
with nine a period of a bass's lowest string has gone by."""
_MOST_DB = 24.0
_LEAD_HOPS, _LEAD_DB, _LEAD_UNDER_DB = 187, 6.0, 35.0
_FORGET_DB_S = 1.0
"""The loudest is forgotten by so much a second, so that one accident does not hide the rest."""
_UNDER_LOUDEST_DB = 62.0
_LOG_HOPS = 1_024
_BLOCK_FRAMES = 1 << 14
_BLOCK_HOPS = 128
"""Small enough for the processor's cache, and for its product to stay on one core."""


@dataclass(frozen=True, kw_only=True)
class Flux:
    """The sound at about 24 kHz, and how much of it is new."""

    samples: NDArray[np.float32]
    """Shape (frames,)."""
    factor: int
    """Frames of the input to one of these."""
    rate: float
    hop: int
    rise_db: NDArray[np.float32]
    """Shape (hops,): the mean rise of all bands; hop n is centred on frame n × hop."""


def flux(samples: NDArray[np.float32], *, rate: int) -> Flux:
    """Return how much new sound there is in each hop.

    Parameters
    ----------
    samples
        Shape (frames,), full scale 1.
    rate
        Frames a second, 22 kHz or more.

    Returns
    -------
    Flux
        At least one hop for any length but none.
    """
    factor = max(1, rate // _LOWEST_RATE)
    low = _divided(samples, factor)
    hop = max(1, round(_HOP_S * rate / factor))
    powers = _band_powers(low, hop=hop, rate=rate / factor)
    return Flux(
        samples=low,
        factor=factor,
        rate=rate / factor,
        hop=hop,
        rise_db=_rises(powers, hop * factor / rate),
    )


def _divided(samples: NDArray[np.float32], factor: int) -> NDArray[np.float32]:
    """Return every so-manyth frame, what would fold over it taken out; frame n is frame n × factor."""
    if factor == 1:
        return samples.astype(np.float32, copy=False)
    taps = _low_pass(factor)
    half = taps.size - 1
    size = -(-samples.size // factor)
    padded = np.full((size + 1) * factor + 2 * half, samples[-1], dtype=np.float32)
    padded[:half] = samples[0]
    padded[half : half + samples.size] = samples
    out = np.empty(size, dtype=np.float32)
    for at in range(0, size, _BLOCK_FRAMES):
        piece = out[at : at + _BLOCK_FRAMES]
        middle = at * factor + half
        reach = (piece.size - 1) * factor + 1
        np.multiply(padded[middle : middle + reach : factor], taps[0], out=piece)
        for n in np.flatnonzero(taps[1:]) + 1:
            pair = padded[middle - n : middle - n + reach : factor].copy()
            pair += padded[middle + n : middle + n + reach : factor]
            pair *= taps[n]
            piece += pair
    return out


def _low_pass(factor: int) -> NDArray[np.float32]:
    """Return the middle tap of a symmetric low-pass and those to one side of it."""
    n = np.arange(_TAPS_A_FACTOR * factor // 2)
    taps = np.sinc(n / factor) * np.cos(np.pi * n / (2 * n.size)) ** 2
    taps[(n > 0) & (n % factor == 0)] = 0.0
    even: NDArray[np.float32] = (taps / (2 * taps.sum() - taps[0])).astype(np.float32)
    return even


def _band_powers(low: NDArray[np.float32], *, hop: int, rate: float) -> NDArray[np.float32]:
    """Return the power in each band, shape (hops, bands)."""
    size = _WINDOW_HOPS * hop
    hops = low.size // hop + 1
    padded = np.full((hops + _WINDOW_HOPS) * hop, low[-1], dtype=np.float32)
    padded[: size // 2] = low[0]
    padded[size // 2 : size // 2 + low.size] = low
    window = np.hanning(size + 1)[:-1].astype(np.float32)
    matrix = _bands(size, rate)
    frames = sliding_window_view(padded, size)[::hop][:hops]
    powers = np.empty((hops, _BANDS), dtype=np.float32)
    for at in range(0, hops, _BLOCK_HOPS):
        spectra = rfft(frames[at : at + _BLOCK_HOPS] * window, overwrite_x=True)
        power = spectra.real**2
        power += spectra.imag**2
        np.matmul(power, matrix, out=powers[at : at + _BLOCK_HOPS])
    return powers


def _bands(size: int, rate: float) -> NDArray[np.float32]:
    """Return triangles that add lines of a spectrum up to bands, shape (lines, bands)."""
    hz = np.fft.rfftfreq(size, 1 / rate)
    edges = np.linspace(_FROM_HZ, min(_TO_HZ, 0.45 * rate), _BANDS + 2)
    up = (hz[:, None] - edges[:-2]) / np.diff(edges)[:-1]
    down = (edges[2:] - hz[:, None]) / np.diff(edges)[1:]
    return np.clip(np.minimum(up, down), 0.0, 1.0).astype(np.float32)


def _rises(powers: NDArray[np.float32], hop_s: float) -> NDArray[np.float32]:
    """Return the mean rise of all bands over the most that was there before, dB, shape (hops,)."""
    floor = _floor(powers.sum(axis=1), hop_s)
    rises = np.empty(len(powers), dtype=np.float32)
    logs = np.repeat(_before_all(powers, float(floor[0]))[None], _BACK_HOPS, axis=0)
    for at in range(0, len(powers), _LOG_HOPS):
        block = slice(at, at + _LOG_HOPS)
        now = 10.0 * np.log10(powers[block] + floor[block, None])
        logs = np.concatenate((logs[-_BACK_HOPS:], now))
        rise = now - _most_before(logs)
        rises[block] = np.clip(rise, 0.0, _MOST_DB).mean(axis=1)
    return rises


def _before_all(powers: NDArray[np.float32], floor: float) -> NDArray[np.float32]:
    """Return what to take for the bands before the file, dB.

    It may begin with a note, or with noise: neither the quiet moments of its first half second nor what is
    far under the loudest of all are new.
    """
    usual = np.quantile(powers[:_LEAD_HOPS], 0.25, axis=0) * 10.0 ** (_LEAD_DB / 10.0)
    under = powers.max(axis=0) * 10.0 ** (-_LEAD_UNDER_DB / 10.0)
    before: NDArray[np.float32] = 10.0 * np.log10(np.maximum(usual, under) + floor)
    return before.astype(np.float32)


def _most_before(logs: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the most each band and its neighbours held two to nine hops before."""
    wide = logs.copy()
    np.maximum(wide[:, 1:], logs[:, :-1], out=wide[:, 1:])
    np.maximum(wide[:, :-1], logs[:, 1:], out=wide[:, :-1])
    two = np.maximum(wide[1:], wide[:-1])
    four = np.maximum(two[2:], two[:-2])
    eight = np.maximum(four[4:], four[:-4])
    return eight[1 : 1 + len(logs) - _BACK_HOPS]


def _floor(powers: NDArray[np.float32], hop_s: float) -> NDArray[np.float32]:
    """Return the power under which nothing counts, that far under the loudest around; shape (hops,).

    What is still to come counts, too: noise before the first note is no music.
    """
    loud_db = 10.0 * np.log10(powers.astype(np.float64) + 1e-20)
    fall_db = _FORGET_DB_S * hop_s * np.arange(powers.size)
    before = np.maximum.accumulate(loud_db + fall_db) - fall_db
    after = np.maximum.accumulate((loud_db - fall_db)[::-1])[::-1] + fall_db
    under_db = np.maximum(before, after) - _UNDER_LOUDEST_DB
    floor: NDArray[np.float32] = (10.0 ** (under_db / 10.0)).astype(np.float32)
    return floor
