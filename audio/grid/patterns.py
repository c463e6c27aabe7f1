"""Places of a beat that a part may be played on, and how well hits fit them.

A hit is thought to lie at a place, late by what all are late, with a normal spread; a few lie anywhere. All
is told in beats: a phase is what a hit's position is behind its beat, 0 to 1. The fit is expectation and
maximisation (Dempster, Laird, Rubin 1977, from memory), the hits that lie anywhere being one component.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

SWING_LOW, SWING_HIGH = 0.52, 0.76
"""The long part's share of a swung pair: below nobody hears it, 0.75 is a dotted note (common practice)."""

ANYWHERE = 0.04
"""Share of hits that lie anywhere."""

LAG_MS = 30.0
"""How far a part usually lies from its grid as a whole, one standard deviation (a guess)."""

SPREAD_MS, SPREAD_RATIO = 11.0, 0.8
"""How far hands usually spread, and the standard deviation of that in its natural logarithm: 5 to 25 ms."""

_ROUNDS = 4
_PSEUDO_HITS = 2.0
_FRESH_LOW, _FRESH_HIGH = 0.15, 0.9
_ROOT = math.sqrt(2.0 * math.pi)

Phases = Sequence[tuple[float, float]]
"""Phase, and how many hits have it."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """The places of a beat: so many parts, even or swung in pairs."""

    parts: int
    swing: float = 0.5

    def steps(self) -> tuple[float, ...]:
        """Return where the places lie in the beat, 0 ≤ place < 1."""
        if self.parts % 2:
            return tuple(step / self.parts for step in range(self.parts))
        return tuple(
            (step - 1 + 2 * self.swing if step % 2 else step) / self.parts
            for step in range(self.parts)
        )

    def nearest(self, phase: float) -> tuple[int, float]:
        """Return the nearest place, and how far behind it a phase lies; place `parts` is the next beat."""
        along = phase * self.parts
        if self.parts % 2:
            step = round(along)
            return step, (along - step) / self.parts
        pair = math.floor(along / 2.0)
        rest = along / 2.0 - pair
        if rest < self.swing / 2.0:
            return 2 * pair, 2.0 * rest / self.parts
        if rest < (1.0 + self.swing) / 2.0:
            return 2 * pair + 1, 2.0 * (rest - self.swing) / self.parts
        return 2 * pair + 2, 2.0 * (rest - 1.0) / self.parts

    def is_fresh(self, step: int) -> bool:
        """Return whether a coarser pattern lacks a place."""
        if self.parts == 1:
            return False
        return math.gcd(step, self.parts) == 1

    @property
    def fresh_steps(self) -> int:
        """How many places no coarser pattern has."""
        return sum(self.is_fresh(step) for step in range(self.parts))


@dataclass(frozen=True, slots=True)
class Fit:
    """Hits fitted to a pattern; in beats."""

    pattern: Pattern
    lag: float
    spread: float
    fresh: float = 0.3
    """Share of the hits on places that no coarser pattern has."""
    likelihood: float = 0.0
    """Natural logarithm, over that of hits at random."""

    def weights(self) -> tuple[float, ...]:
        """Return each place's share of the hits, of the next beat's first too."""
        fresh_steps = self.pattern.fresh_steps
        fresh = self.fresh / fresh_steps if fresh_steps else 0.0
        old = (1.0 - self.fresh if fresh_steps else 1.0) / (self.pattern.parts - fresh_steps)
        return tuple(
            fresh if self.pattern.is_fresh(step) else old for step in range(self.pattern.parts)
        )


def fitted(start: Fit, phases: Phases, *, beat_ms: float, free_swing: bool) -> Fit:
    """Return the best fit that is reached from a start."""
    fit = start
    for _ in range(_ROUNDS):
        fit = _better(fit, phases, beat_ms=beat_ms, free_swing=free_swing)
    found = sum(count * math.log(density) for density, count in densities(fit, phases))
    return replace(fit, likelihood=found)


def densities(fit: Fit, phases: Phases) -> list[tuple[float, float]]:
    """Return each phase's likelihood over that of a hit at random, and its count."""
    peaks = _peaks(fit)
    nearest, lag, narrow = fit.pattern.nearest, fit.lag, -0.5 / fit.spread**2
    found = []
    for phase, count in phases:
        step, off = nearest(phase - lag)
        found.append((ANYWHERE + peaks[step % len(peaks)] * math.exp(narrow * off * off), count))
    return found


def turned(phases: Phases, parts: int) -> float:
    """Return how late hits lie behind the nearest of even parts, on the average around the circle."""
    turn = 2.0 * math.pi * parts
    east = sum(count * math.cos(turn * phase) for phase, count in phases)
    north = sum(count * math.sin(turn * phase) for phase, count in phases)
    return math.atan2(north, east) / turn


def _peaks(fit: Fit) -> tuple[float, ...]:
    scale = (1.0 - ANYWHERE) / (fit.spread * _ROOT)
    return tuple(scale * weight for weight in fit.weights())


class _Sums:
    """What is added up of the hits of one kind of place."""

    __slots__ = ("first", "hits", "second")

    def __init__(self) -> None:
        self.hits = self.first = self.second = 0.0

    def add(self, hits: float, off: float) -> None:
        self.hits += hits
        self.first += hits * off
        self.second += hits * off * off


def _better(fit: Fit, phases: Phases, *, beat_ms: float, free_swing: bool) -> Fit:
    """Return a fit whose likelihood is no less."""
    sums = (_Sums(), _Sums())
    fresh = 0.0
    is_fresh = [fit.pattern.is_fresh(step) for step in range(fit.pattern.parts)]
    peaks, narrow = _peaks(fit), -0.5 / fit.spread**2
    for phase, count in phases:
        step, off = fit.pattern.nearest(phase - fit.lag)
        on = peaks[step % len(peaks)] * math.exp(narrow * off * off)
        hits = count * on / (on + ANYWHERE)
        sums[step % 2 if free_swing else 0].add(hits, off)
        if is_fresh[step % len(peaks)]:
            fresh += hits
    return _moved(fit, sums, fresh, beat_ms=beat_ms)


def _moved(fit: Fit, sums: tuple[_Sums, _Sums], fresh: float, *, beat_ms: float) -> Fit:
    even, odd = sums
    if even.hits < odd.hits * 0.01:  # nothing on the beats: no telling swing from lag
        even, odd = odd, even
    pull = (fit.spread * beat_ms / LAG_MS) ** 2  # towards no lag, in hits
    shift = (even.first - pull * fit.lag) / (even.hits + pull)
    hits = even.hits + odd.hits
    swing, turn = fit.pattern.swing, 0.0
    if odd.hits > 0.0 and odd is sums[1]:
        turn = odd.first / odd.hits - shift
        swing = min(max(swing + turn * fit.pattern.parts / 2.0, SWING_LOW), SWING_HIGH)
        turn = (swing - fit.pattern.swing) * 2.0 / fit.pattern.parts
    square = even.second - 2 * shift * even.first + shift**2 * even.hits
    late = shift + turn
    square += odd.second - 2 * late * odd.first + late**2 * odd.hits
    usual = SPREAD_MS / beat_ms
    spread = math.sqrt((max(square, 0.0) + _PSEUDO_HITS * usual**2) / (hits + _PSEUDO_HITS))
    return Fit(
        pattern=replace(fit.pattern, swing=swing),
        lag=fit.lag + shift,
        spread=min(spread, 1.0 / (3.0 * fit.pattern.parts)),
        fresh=min(max((fresh + 1.0) / (hits + 2.0), _FRESH_LOW), _FRESH_HIGH),
    )
