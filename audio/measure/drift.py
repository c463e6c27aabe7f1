"""A delay that may drift: followed from block to block, and told as a line at the end."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from audio.measure import gauss
from audio.vocab.alignment import Place, Slip

if TYPE_CHECKING:
    from collections.abc import Sequence

CLOCKS_APART = 60e-6
"""Standard deviation of two clocks' difference before anything is known: crystals keep within 100 ppm
(common practice, no source)."""

_FIRST_SPREAD = 3.0
"""Standard deviation, frames, of a place that was just found."""

_WANDER = 1e-4
"""Variance of a delay that wanders for reasons of its own, frames² a second."""

_CLOCKS_WANDER = 1e-12
"""Variance of the slope likewise, a second: what was learned wrongly at first is forgotten in a minute."""

EXACT = 0.01
"""Standard deviation of one block's delay at best, frames: what the shape of a path is not known to."""

MOST_PLACES = 200


class Follower:
    """Kalman's filter of a delay and its slope, from a beginning that is known to some frames.

    Its arrays are replaced, never changed: a copy learns for itself.

    Parameters
    ----------
    at
        Frame of the recording.
    delay
        Frames.
    rate
        Frames a second.
    """

    def __init__(self, *, at: float, delay: float, rate: int) -> None:
        self._rate = rate
        self._at = at
        self._state = np.asarray([delay, 0.0])
        self._cover = np.diag([_FIRST_SPREAD**2, CLOCKS_APART**2])

    def copy(self) -> Follower:
        """Return one that knows as much."""
        return copy.copy(self)

    def go_to(self, at: float) -> tuple[float, float]:
        """Return the delay expected at a frame and its standard deviation; time moves there."""
        step = at - self._at
        move = np.asarray([[1.0, step], [0.0, 1.0]])
        self._at = at
        self._state = move @ self._state
        wander = np.diag([_WANDER, _CLOCKS_WANDER]) * abs(step) / self._rate
        self._cover = move @ self._cover @ move.T + wander
        return float(self._state[0]), sqrt(self._cover[0, 0])

    def correct(self, off: float, information: float) -> None:
        """Learn that the delay is off by so many frames; the information is 1 over its variance."""
        variance = 1.0 / information + EXACT**2
        gain = self._cover[:, 0] / (self._cover[0, 0] + variance)
        self._state = self._state + gain * off
        self._cover = self._cover - np.outer(gain, self._cover[0, :])

    def shift(self, frames: int) -> None:
        """Take a slip into account."""
        self._state = self._state + np.asarray([frames, 0.0])


@dataclass(frozen=True)
class Reading:
    """The delay of one block."""

    at: float
    """Frame of what was played."""
    delay: float
    weight: float
    """1 over its variance."""


@dataclass(frozen=True)
class Line:
    """Delay over frames of what was played."""

    start: float
    """Delay at frame 0."""
    start_error: float
    """Standard deviation."""
    slope: float
    slope_error: float
    scatter: float
    """How much more than expected the readings scatter about it, 1 or more."""

    @classmethod
    def through(cls, readings: Sequence[Reading]) -> Line:
        """Fit one or more readings by least squares, each by its weight; one alone has no slope."""
        at = np.asarray([r.at for r in readings])
        delay = np.asarray([r.delay for r in readings])
        weight = np.asarray([r.weight for r in readings])
        total = float(np.sum(weight))
        middle, mean = float(weight @ at) / total, float(weight @ delay) / total
        spread = float(weight @ (at - middle) ** 2)
        # The clocks are known to lie near each other: two readings in a row say little of that.
        spread_known = spread + CLOCKS_APART**-2.0
        slope = float((weight * (at - middle)) @ (delay - mean)) / spread_known
        left = delay - mean - slope * (at - middle)
        free = max(len(readings) - 2, 1)
        scatter = max(1.0, sqrt(float(weight @ left**2) / free))
        slope_error = scatter / sqrt(spread_known)
        return cls(
            start=mean - slope * middle,
            start_error=sqrt(scatter**2 / total + (slope_error * middle) ** 2),
            slope=slope,
            slope_error=slope_error,
            scatter=scatter,
        )


def reading(at: float, delay: float, information: float) -> Reading:
    """Return a reading that is no more exact than a path is known; information is 1 over its variance."""
    return Reading(at=at, delay=delay, weight=1.0 / (1.0 / information + EXACT**2))


def merged(group: Sequence[Reading]) -> Reading:
    """Return what some readings say together."""
    weight = sum(r.weight for r in group)
    return Reading(
        at=sum(r.weight * r.at for r in group) / weight,
        delay=sum(r.weight * r.delay for r in group) / weight,
        weight=weight,
    )


def places(
    readings: Sequence[Reading], *, slips: Sequence[Slip], scatter: float
) -> tuple[Place, ...]:
    """Return the readings with the slips in them, neighbours taken together until some hundred are left."""
    together = -(-len(readings) // MOST_PLACES) if readings else 1
    groups = [readings[i : i + together] for i in range(0, len(readings), together)]
    return tuple(_place(merged(group), slips, scatter) for group in groups)


def _place(one: Reading, slips: Sequence[Slip], scatter: float) -> Place:
    slipped = sum(slip.frames for slip in slips if slip.at_frame <= one.at)
    return Place(
        at_frame=round(one.at),
        delay_frames=one.delay + slipped,
        plus_minus_frames=gauss.NINETY_FIVE * scatter / sqrt(one.weight),
    )


def ninety_five(deviation: float) -> float:
    """Return half the width of the 95 % interval of a Gaussian."""
    return gauss.NINETY_FIVE * deviation
