"""Where a response begins that peaks later: what a path smears is taken back.

Any stable path is a delay, a response of least phase that its magnitude tells (log magnitude and phase are
Hilbert transforms of each other), and sections that turn the phase and leave the magnitude alone
(Oppenheim and Schafer, *Discrete-Time Signal Processing*: minimum phase and all-pass decomposition; from
memory). The delay is the first arrival. The magnitude is known where the music is loud enough; above, it is
continued as guitar loudspeakers fall (common practice, no source), unless it stays flat as far as it is
seen: then there is no loudspeaker. Of the phase that is left, up to two all-pass sections are taken out,
each only if it explains most of what the delay alone does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.fades import direct_sound
from audio.measure.minimum_phase import causal
from audio.measure.pooled import SIZE, Pooled, between, smooth

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    Turn = tuple[float, float]
    """Frequency, Hz, and Q of an all-pass section."""

_BEFORE_S, _AFTER_S, _FADE_S = 0.0014, 0.0035, 0.001
"""This much of the response around its peak is the direct sound; what comes later is room."""
_EARLIEST_S, _LATEST_S = 0.0014, 0.00015
"""How far before and after the peak of the response its beginning may lie."""
_BOTTOM_HZ = (60.0, 140.0)
_TOP = (0.395, 0.455)
"""Of the low rate: where what was recorded of the top ends."""
_LOWEST_HZ = 150.0
_CLEAR = 4.0
"""Power over its uncertainty from which a frequency counts as measured."""
_DENSE = 0.6
_SURE = 20.0
"""The same where half is trusted of what the slope at the top is read from."""
_PIECE = 1024
_OVER = 4
_FINER = 8

_DB = 20.0 / np.log(10.0)
_OCTAVES_FOR_SLOPE = 0.4
_KNEE_HZ = 5000.0
_STEEPEST_DB = -30.0
"""An octave, beyond the knee of a loudspeaker."""
_FLOOR_DB = -48.0
"""Breakup, leakage and air end that fall."""
_FLAT_TOP, _FLAT_DB, _FLAT_SLOPE_DB = (0.83, 0.98), (-8.0, -4.0), (-12.0, -6.0)
"""A path that is measured up to this share of the top and has not fallen by more is no loudspeaker: surely
so at the second of each two, surely not at the first."""

_TURN_HZ = tuple(float(hz) for hz in np.geomspace(350.0, 3600.0, 22))
_TURN_Q = (0.45, 0.7, 1.0, 1.4)
_ROUGH_TURNS = tuple(product(_TURN_HZ[::3], _TURN_Q[::2]))
_MOST_TURNS = 2
_WORTH, _LEAST_WORTH = 0.4, 0.006
"""A section must explain this share of what was unexplained, and at least this much of all."""


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """Where a response begins."""

    at: float
    """Low-rate frames from where the attacks were put."""
    sign: float
    """−1.0 or 1.0: whether the path turns the wave over."""
    height: float
    """Share of the response's phase that is explained, 0 to 1."""
    against: float
    """The same of the strongest beginning of the other sign nearby."""
    turns: tuple[Turn, ...]
    """All-pass sections that were taken out."""


def first_arrival_of(pooled: Pooled, *, turns: tuple[Turn, ...] | None = None) -> Arrival:
    """Find where a response begins.

    Parameters
    ----------
    pooled
        The attacks together, roughly in place: within half of `SIZE`.
    turns
        All-pass sections that are known already; looked for if left out.

    Returns
    -------
    Arrival
        Of the strongest beginning.
    """
    excess, top = _excess(pooled)
    if turns is None:
        turns = _turns(excess)
    return excess.look(turns, moved=top)


@dataclass(frozen=True, kw_only=True)
class _Excess:
    """What phase is left of a response when the least phase is taken back."""

    phase: NDArray[np.complex128]
    """(bins,) · of magnitude 1, or 0."""
    weight: NDArray[np.float64]
    hz: NDArray[np.float64]
    rate: float
    before: int
    """Column at which the peak of the response lies."""

    def look(self, turns: tuple[Turn, ...], *, moved: int = 0) -> Arrival:
        """Return the strongest beginning once these sections are taken out."""
        spectrum = self.phase * self.weight
        for turn in turns:
            spectrum = spectrum * np.conj(_turned(self.hz, *turn))
        curve = fft.irfft(spectrum, _FINER * _PIECE)
        start = _FINER * (self.before - round(_EARLIEST_S * self.rate))
        end = _FINER * self.before + round(_FINER * _LATEST_S * self.rate) + 1
        near = curve[start:end] * (_FINER * _PIECE / (2.0 * np.sum(self.weight)))
        best = int(np.argmax(np.abs(near)))
        sign = 1.0 if near[best] >= 0.0 else -1.0
        at = start + best + between(np.abs(near), best)
        return Arrival(
            at=at / _FINER - self.before + moved,
            sign=sign,
            height=float(abs(near[best])),
            against=float(max(np.max(-sign * near), 0.0)),
            turns=turns,
        )


def _excess(pooled: Pooled) -> tuple[_Excess, int]:
    """Return the phase beyond the least, and the low-rate frame of the response's peak."""
    response = pooled.cross / pooled.auto
    edges = (*_BOTTOM_HZ, *(share * pooled.rate for share in _TOP))
    band = np.interp(np.arange(response.size) * (pooled.rate / SIZE), edges, (0.0, 1.0, 1.0, 0.0))
    white = fft.irfft(response / (np.abs(response) + 1e-30) * band, SIZE)
    top = (int(np.argmax(np.abs(white))) + SIZE // 2) % SIZE - SIZE // 2
    weights, before = _window(pooled.rate)
    columns = (np.arange(weights.size) - before + top) % SIZE
    spectrum = fft.rfft(fft.irfft(response * band, SIZE)[columns] * weights, _PIECE)
    hz = np.arange(spectrum.size) * (pooled.rate / _PIECE)
    clear = _clearness(np.abs(spectrum) ** 2, pooled, hz, float(weights @ weights))
    low, high = _measured(clear, hz, top_hz=edges[2])
    log = _log_magnitude(spectrum, clear, np.interp(hz, edges, (0.0, 1.0, 1.0, 0.0)))
    phase = spectrum * np.conj(_least_phase(log, low, high, hz, clear))
    return _Excess(
        phase=phase / (np.abs(phase) + 1e-30),
        weight=_weight(clear, low, high, hz),
        hz=hz,
        rate=pooled.rate,
        before=before,
    ), top


def _window(rate: float) -> tuple[NDArray[np.float64], int]:
    """Return the weights of the direct sound, and the column of them that lies on the peak."""
    before, after, fade = (round(s * rate) for s in (_BEFORE_S, _AFTER_S, _FADE_S))
    return direct_sound(before, after, fade=fade), before


def _clearness(
    power: NDArray[np.float64], pooled: Pooled, hz: NDArray[np.float64], energy: float
) -> NDArray[np.float64]:
    """Return the power of each bin over what its uncertainty would give, at least 0."""
    at = np.arange(pooled.auto.size) * (pooled.rate / SIZE)
    uncertain = np.interp(hz, at, smooth(pooled.noise / pooled.auto, 8)) * (energy / SIZE)
    return np.asarray(np.maximum(power / (uncertain + 1e-30) - 1.0, 0.0))


def _measured(
    clear: NDArray[np.float64], hz: NDArray[np.float64], *, top_hz: float
) -> tuple[int, int]:
    """Return the first and last bin that count as measured; lonely ones at the top do not."""
    good = (clear > _CLEAR) & (hz > _LOWEST_HZ) & (hz < top_hz)
    dense = np.flatnonzero(np.convolve(good, np.full(9, 1.0 / 9.0), "same") > _DENSE)
    if dense.size < 2:
        return int(np.argmax(hz > _LOWEST_HZ)), int(np.argmax(hz > 2000.0))
    low = int(np.argmax(good))
    return low, max(int(dense[-1]), low + 2)


def _log_magnitude(
    spectrum: NDArray[np.complex128], clear: NDArray[np.float64], band: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the log magnitude without the share that is uncertainty, and without the band's edges."""
    share = np.maximum(clear / (1.0 + clear), 0.05)
    power = np.abs(spectrum) ** 2 * share + 1e-30
    return np.asarray(0.5 * np.log(power) - np.log(np.maximum(band, 0.05)))


def _least_phase(
    log: NDArray[np.float64],
    low: int,
    high: int,
    hz: NDArray[np.float64],
    clear: NDArray[np.float64],
) -> NDArray[np.complex128]:
    """Return the response of this log magnitude that has the least delay, by its folded cepstrum."""
    size = _OVER * _PIECE
    whole = np.full(size // 2 + 1, log[low])
    whole[low : high + 1] = log[low : high + 1]
    inside = slice(low, high + 1)
    whole[high + 1 :] = _continued(log[inside], hz[inside], clear[inside], whole.size - high - 1)
    return causal(whole)[: log.size]


def _continued(
    log: NDArray[np.float64], hz: NDArray[np.float64], clear: NDArray[np.float64], bins: int
) -> NDArray[np.float64]:
    """Return the log magnitude of so many bins more, up to `_OVER` times half the low rate."""
    top_hz = 2.0 * _TOP[0] / _OVER * (float(hz[-1]) + bins * float(hz[1] - hz[0]))
    last = float(hz[-1])
    above = last + np.arange(1, bins + 1) * float(hz[1] - hz[0])
    usual = 0.5 * float(np.log(np.mean(np.exp(2.0 * log))))
    near = hz >= last / 2.0**_OCTAVES_FOR_SLOPE
    slope, level = 0.0, float(log[-1])
    sure = clear[near] / (clear[near] + _SURE)
    if np.count_nonzero(sure) > 2:
        slope, level = (
            float(v) for v in np.polyfit(np.log2(hz[near] / last), log[near], 1, w=sure)
        )
    knee = max(_KNEE_HZ, last)
    bounded = float(np.clip(slope, _STEEPEST_DB / _DB, 0.0))
    falls = level + bounded * np.log2(np.minimum(above, knee) / last)
    falls += _STEEPEST_DB / _DB * np.log2(np.maximum(above, knee) / knee)
    falls = 0.5 * np.logaddexp(2.0 * falls, 2.0 * (usual + _FLOOR_DB / _DB))
    stays = level + max(bounded, _FLAT_SLOPE_DB[0] / _DB) * np.log2(above / last)
    flat = _share(last / top_hz, _FLAT_TOP) * _share((level - usual) * _DB, _FLAT_DB)
    flat *= _share(slope * _DB, _FLAT_SLOPE_DB)
    return np.asarray(flat * stays + (1.0 - flat) * falls)


def _share(value: float, ends: tuple[float, float]) -> float:
    """Return how far a value is from the first of two on its way to the second, 0 to 1."""
    first, second = ends
    return float(np.clip((value - first) / (second - first), 0.0, 1.0))


def _weight(
    clear: NDArray[np.float64], low: int, high: int, hz: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how much each bin's phase counts: as it is certain, less at both ends."""
    inside = (hz >= hz[low]) & (hz <= hz[high])
    ends = np.interp(hz, (80.0, 200.0), (0.0, 1.0))
    ends *= np.interp(hz, (0.8 * hz[high], hz[high]), (1.0, 0.3))
    return np.asarray(clear / (1.0 + clear) * inside * ends + 1e-12)


def _turned(hz: NDArray[np.float64], turn_hz: float, q: float) -> NDArray[np.complex128]:
    """Return the phase of an all-pass section of second order."""
    at = hz / turn_hz
    real, imaginary = 1.0 - at * at, at / q
    return np.asarray((real - 1j * imaginary) / (real + 1j * imaginary))


def _turns(excess: _Excess) -> tuple[Turn, ...]:
    """Return the all-pass sections that explain the phase best, none unless it is worth it."""
    turns: tuple[Turn, ...] = ()
    height = excess.look(turns).height
    for count in range(1, _MOST_TURNS + 1):
        tried = [(*turns, turn) for turn in product(_TURN_HZ, _TURN_Q)]
        begins = [_tallest(excess, tried)]
        if count > 1:  # what explains most together need not begin with what explains most alone
            begins.append(_tallest(excess, combinations(_ROUGH_TURNS, count)))
        more, taller = max((_finer(excess, one) for one in begins), key=lambda one: one[1])
        if taller - height < max(_LEAST_WORTH, _WORTH * (1.0 - height)):
            break
        turns, height = more, taller
    return turns


def _tallest(excess: _Excess, tried: Iterable[tuple[Turn, ...]]) -> tuple[Turn, ...]:
    return max(tried, key=lambda turns: excess.look(turns).height)


def _finer(excess: _Excess, turns: tuple[Turn, ...]) -> tuple[tuple[Turn, ...], float]:
    """Return sections moved bit by bit as long as they explain more, and how much they do."""
    best = excess.look(turns).height
    wide_hz, wide_q = 1.08, 1.25
    for _ in range(6):
        for index, (hz, q) in product(range(len(turns)), ((wide_hz, 1.0), (1.0, wide_q))):
            for way in (1.0, -1.0):
                old = turns[index]
                tried = (old[0] * hz**way, old[1] * q**way)
                moved = (*turns[:index], tried, *turns[index + 1 :])
                if (height := excess.look(moved).height) > best:
                    turns, best = moved, height
        wide_hz, wide_q = wide_hz**0.7, wide_q**0.7
    return turns, best
