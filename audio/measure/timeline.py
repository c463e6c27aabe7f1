"""Delays of single attacks as a clock that drifts and frames that were lost or inserted.

A straight line, and steps where they explain more than they cost: least squares by segments, the
segments found by dynamic programming (Jackson et al. 2005, *An algorithm for optimal partitioning of
data on an interval*), all with one slope, since a clock does not change its speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from audio.measure import gauss

if TYPE_CHECKING:
    from numpy.typing import NDArray

_STEP_COST = 40.0
"""Of one step, in variances: what chance explains of some hundred attacks, and a good bit more."""
_ROUNDS = 4
_MOST_SIGMAS = 4.0
"""A single attack further off than this counts as so far off only."""
_SMALLEST_SIGMA = 0.02
_TRUSTED_SIGMA = 0.2
"""No attacks are trusted to lie closer to their line than this, however few show it: what echoes and
neighbours do to one comes back with the next of its kind."""
_DETOUR = 8
_AROUND = 3
_STRAY_SIGMAS = 6.0


@dataclass(frozen=True, kw_only=True)
class Timeline:
    """Delay over time: ``start + slope · at`` plus the steps before `at`."""

    start: float
    """Delay at 0, before all steps."""
    slope: float
    slope_sigma: float
    steps: tuple[tuple[int, float], ...]
    """Index of the first value after each step, and its size."""
    sigma: float
    """Spread of single values around the line."""
    fitted: NDArray[np.float64]
    """(values,) · the line at each value."""


def fit(at: NDArray[np.float64], delays: NDArray[np.float64]) -> Timeline:
    """Fit a line with steps.

    Parameters
    ----------
    at
        (values,) · rising.
    delays
        (values,) · 2 or more.

    Returns
    -------
    Timeline
        The cheaper of two fits: one that begins with a line through all, one with the slope that
        neighbours have among themselves.
    """
    sigma = _noise(delays)
    flat = _near_slope(at, delays) * at
    delays = flat + _without_strays(delays - flat, sigma)
    tries = [
        _settled(at, delays, slope, sigma)
        for slope in (_plain_slope(at, delays), _near_slope(at, delays))
    ]
    _, starts, slope = min(tries, key=lambda one: one[0])
    return _told(at, delays, starts, slope)


def _without_strays(delays: NDArray[np.float64], sigma: float) -> NDArray[np.float64]:
    """Return the delays, those far off all around them put where these are (Hampel 1974)."""
    reach = min(_AROUND, (delays.size - 1) // 2)
    if reach < 1:
        return delays
    padded = np.pad(delays, reach, mode="reflect")
    middles = np.median(sliding_window_view(padded, 2 * reach + 1), axis=1)
    off = np.abs(delays - middles) > _STRAY_SIGMAS * sigma + 1.0
    return np.where(off, middles, delays)


def _noise(delays: NDArray[np.float64]) -> float:
    """Return the spread of single values, from what each differs from its neighbours' middle."""
    if delays.size < 3:
        return _SMALLEST_SIGMA
    bends = delays[1:-1] - 0.5 * (delays[:-2] + delays[2:])
    usual = float(np.median(np.abs(bends))) / gauss.MEDIAN
    return max(usual / float(np.sqrt(1.5)), _SMALLEST_SIGMA)


def _plain_slope(at: NDArray[np.float64], delays: NDArray[np.float64]) -> float:
    centred = at - np.mean(at)
    return float(centred @ delays / max(float(centred @ centred), 1e-30))


def _near_slope(at: NDArray[np.float64], delays: NDArray[np.float64]) -> float:
    """Return the median slope between values an eighth of all apart."""
    apart = max(1, at.size // 8)
    return float(np.median((delays[apart:] - delays[:-apart]) / (at[apart:] - at[:-apart])))


def _settled(
    at: NDArray[np.float64], delays: NDArray[np.float64], slope: float, sigma: float
) -> tuple[float, list[int], float]:
    """Return cost, first index of each segment, and slope, after some rounds of both."""
    cost, starts = np.inf, [0]
    for _ in range(_ROUNDS):
        before = starts
        cost, starts = _segments(delays - slope * at, max(sigma, _TRUSTED_SIGMA))
        slope = _common_slope(at, delays, starts, sigma, slope)
        if starts == before and starts != [0]:
            break
    return cost, starts, slope


def _segments(values: NDArray[np.float64], sigma: float) -> tuple[float, list[int]]:
    """Return the cheapest cut into constant segments: its cost and the first index of each.

    A value costs its squared distance in sigmas.
    """
    count = values.size
    sums = np.concatenate(([0.0], np.cumsum(values - values[0])))
    squares = np.concatenate(([0.0], np.cumsum((values - values[0]) ** 2)))
    best = np.zeros(count + 1)
    came = np.zeros(count + 1, dtype=np.int64)
    best[0] = -_STEP_COST
    for end in range(1, count + 1):
        inside = sums[end] - sums[:end]
        costs = squares[end] - squares[:end] - inside**2 / np.arange(end, 0, -1)
        costs = best[:end] + _STEP_COST + costs / sigma**2
        came[end] = int(np.argmin(costs))
        best[end] = costs[came[end]]
    starts, end = [], count
    while end > 0:
        end = int(came[end])
        starts.append(end)
    return float(best[count]), starts[::-1]


def _common_slope(
    at: NDArray[np.float64],
    delays: NDArray[np.float64],
    starts: list[int],
    sigma: float,
    slope: float,
) -> float:
    """Return the slope that all segments share, outliers left out."""
    over, under = 0.0, 0.0
    for begin, end in zip(starts, [*starts[1:], at.size], strict=True):
        left = delays[begin:end] - slope * at[begin:end]
        good = np.abs(left - np.median(left)) <= _MOST_SIGMAS * sigma
        if np.count_nonzero(good) < 2:
            continue
        x, y = at[begin:end][good], delays[begin:end][good]
        over += float((x - np.mean(x)) @ (y - np.mean(y)))
        under += float((x - np.mean(x)) @ (x - np.mean(x)))
    return over / under if under > 0.0 else slope


def _without_detours(flat: NDArray[np.float64], starts: list[int]) -> list[int]:
    """Return the segments' beginnings, short ones left out after which all is as it was before.

    Frames that are lost do not come back: a few attacks off together are an echo's or a neighbour's doing.
    """
    ends = [*starts[1:], flat.size]
    levels = [float(np.median(flat[b:e])) for b, e in zip(starts, ends, strict=True)]
    for index in range(1, len(starts) - 1):
        short = ends[index] - starts[index] < _DETOUR
        if short and abs(levels[index + 1] - levels[index - 1]) < 0.5:
            return _without_detours(flat, starts[:index] + starts[index + 2 :])
    return starts


def _told(
    at: NDArray[np.float64],
    delays: NDArray[np.float64],
    starts: list[int],
    slope: float,
) -> Timeline:
    flat = delays - slope * at
    starts = _without_detours(flat, starts)
    levels, under = [], 0.0
    for begin, end in zip(starts, [*starts[1:], at.size], strict=True):
        levels.append(float(np.median(flat[begin:end])))
        under += float(np.sum((at[begin:end] - np.mean(at[begin:end])) ** 2))
    heights = np.repeat(levels, np.diff([*starts, at.size]))
    spread = max(float(np.median(np.abs(flat - heights))) / gauss.MEDIAN, _SMALLEST_SIGMA)
    return Timeline(
        start=levels[0],
        slope=slope,
        slope_sigma=spread / float(np.sqrt(under)) if under > 0.0 else float("inf"),
        steps=tuple(
            (begin, after - before)
            for begin, before, after in zip(starts[1:], levels[:-1], levels[1:], strict=True)
        ),
        sigma=spread,
        fitted=heights + slope * at,
    )
