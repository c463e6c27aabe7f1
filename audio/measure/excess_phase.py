"""The phase that is left of a response once its least phase is out: a pure delay, a sign, and allpasses.

What no minimum phase explains is a straight line of phase over frequency, which is the delay that is
sought, and whatever turns phase and leaves magnitude alone: two speakers that do not move together, a
filter in front of them. Such a turn is fitted as an allpass section of second order; up to two of them.
The fit is a weighted least squares of phases in narrow bands (Gauss and Newton with Levenberg's damping,
as in any textbook of numerical methods), begun from the best of a grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

EARLIEST_S = 0.0012
LATEST_S = 0.0003
"""How far before and after column 0 the response may begin."""

_LOWEST_HZ, _HIGHEST_HZ = 350.0, 4200.0
_DULLEST, _SHARPEST = 0.5, 1.7
"""Where allpass sections turn, and their quality: two equal sections of first order make 0.5, and nothing
in an audio path is duller (common practice, no source)."""
_BESIDE = (0.1, 0.2)
"""How far, in logarithms of frequency and quality, a fit may leave those limits."""
_GRID = (11, 3)
_POLISHED = 3
"""Best points of a grid that are begun from."""
_STEPS = 12
_SMALL = 1e-4


@dataclass(frozen=True, kw_only=True)
class Residue:
    """Phases in narrow bands."""

    turned: NDArray[np.complex128]
    """(bands,) · each of length 1."""
    weight: NDArray[np.float64]
    """(bands,) · one over the variance of its phase, in radians squared."""
    omega: NDArray[np.float64]
    """(bands,) · radians a frame."""
    rate: int


@dataclass(frozen=True, kw_only=True)
class Fit:
    """A delay, a sign and allpasses that explain a residue."""

    at: float
    """Delay, frames."""
    sign: float
    """−1.0 or 1.0."""
    misfit: float
    """Mean over the bands of the weighted square of what is left: 1 where only noise is."""
    bands: int
    variance: float
    """Of `at`, by the weights, frames squared."""
    sections: tuple[float, ...]
    """Logarithms of frequency in hertz and quality, by turns."""

    @property
    def strained(self) -> bool:
        """Whether a section is duller or sharper than those that are looked for."""
        return any(
            not np.log(_DULLEST) <= quality <= np.log(_SHARPEST) for quality in self.sections[1::2]
        )


def best_fits(residue: Residue, *, sections: int) -> tuple[Fit, ...]:
    """Return the best fit of either sign with so many allpass sections, the better first.

    Parameters
    ----------
    residue
        Phases; column 0 is about where the response begins.
    sections
        0, 1 or 2.

    Returns
    -------
    tuple of Fit
        Two, or one where no fit of the other sign stays within limits, or none.
    """
    delays, shifts = _delays(residue)
    grid = _grid(sections)
    back = _back(residue, sections) * (residue.turned * residue.weight)
    tops = back.real @ shifts.real - back.imag @ shifts.imag
    fits = [_best(residue, sign, sign * tops, grid, delays) for sign in (1.0, -1.0)]
    found = [fit for fit in fits if fit is not None]
    return tuple(sorted(found, key=lambda fit: fit.misfit))


def polished(
    residue: Residue, *, at: float, sign: float, sections: tuple[float, ...] = ()
) -> Fit | None:
    """Return the fit nearest to a beginning, None where it leaves its limits.

    Parameters
    ----------
    residue
        Phases.
    at
        Delay to begin from, frames.
    sign
        −1.0 or 1.0, kept.
    sections
        Allpasses to begin from, as in `Fit.sections`.

    Returns
    -------
    Fit | None
        With the nearest minimum of the weighted square.
    """
    where = np.asarray([at, *sections])
    cost, left = _cost(residue, sign, where)
    damping, bends = 1e-2, np.zeros((where.size, where.size))
    if not np.isfinite(cost):
        return None
    for _ in range(_STEPS):
        slopes = _slopes(residue, where)
        bends = slopes.T @ (residue.weight[:, None] * slopes)
        pull = slopes.T @ (residue.weight * np.sin(left))
        damped = bends + damping * np.diag(np.diag(bends) + 1e-9)
        there = where + np.linalg.solve(damped, pull)
        new, new_left = _cost(residue, sign, there)
        if new >= cost:
            damping *= 8.0
            continue
        done = cost - new < _SMALL * cost + 1e-3
        where, cost, left, damping = there, new, new_left, max(damping / 5.0, 1e-6)
        if done:
            break
    return Fit(
        at=float(where[0]),
        sign=sign,
        misfit=float(cost) / residue.weight.size,
        bands=residue.weight.size,
        variance=float(np.linalg.pinv(bends)[0, 0]),
        sections=tuple(float(v) for v in where[1:]),
    )


def _best(
    residue: Residue,
    sign: float,
    tops: NDArray[np.float64],
    grid: tuple[tuple[float, ...], ...],
    delays: NDArray[np.float64],
) -> Fit | None:
    """Return the best fit of a sign, begun from the best points of the grid."""
    highest = np.argsort(np.max(tops, axis=1))[::-1][:_POLISHED]
    begun = [
        polished(residue, at=float(delays[np.argmax(tops[i])]), sign=sign, sections=grid[i])
        for i in highest
    ]
    return min((fit for fit in begun if fit is not None), key=lambda f: f.misfit, default=None)


def _delays(residue: Residue) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """Return delays half a frame apart, and (bands, delays) of what each of them turns back."""
    first, last = round(EARLIEST_S * residue.rate), round(LATEST_S * residue.rate)
    delays = np.arange(-first, last + 0.1, 0.5)
    return delays, np.exp(1j * np.outer(residue.omega, delays))


@lru_cache(maxsize=3)
def _grid(sections: int) -> tuple[tuple[float, ...], ...]:
    """Return sections to begin from; two of them in all pairs."""
    hz = np.log(np.geomspace(_LOWEST_HZ, _HIGHEST_HZ, _GRID[0]))
    quality = np.log(np.geomspace(_DULLEST, _SHARPEST, _GRID[1]))
    one = [(float(f), float(q)) for f in hz for q in quality]
    pairs = combinations_with_replacement(one, sections)
    return tuple(tuple(v for section in some for v in section) for some in pairs)


def _back(residue: Residue, sections: int) -> NDArray[np.complex128]:
    """Return (points, bands) of what turns back the sections of each point of the grid."""
    if sections == 0:
        return np.ones((1, residue.omega.size), dtype=np.complex128)
    one = np.asarray([np.conj(_turn(residue, np.asarray([0.0, *p]))) for p in _grid(1)])
    if sections == 1:
        return one
    first, second = np.triu_indices(len(one))  # the order of combinations with replacement
    return np.asarray(one[first] * one[second])


def _turn(residue: Residue, where: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Return what a delay and allpass sections of second order do to each band."""
    whole: NDArray[np.complex128] = np.exp(-1j * residue.omega * where[0])
    step = np.exp(-1j * residue.omega)
    for log_hz, log_quality in where[1:].reshape(-1, 2):
        turn = 2.0 * np.pi * np.exp(log_hz) / residue.rate
        slack = np.sin(turn) / (2.0 * np.exp(log_quality))
        middle = -2.0 * np.cos(turn) * step
        below = (1.0 + slack) + middle + (1.0 - slack) * step**2
        whole *= ((1.0 - slack) + middle + (1.0 + slack) * step**2) / below
    return whole


def _cost(
    residue: Residue, sign: float, where: NDArray[np.float64]
) -> tuple[float, NDArray[np.float64]]:
    """Return the weighted square that is left and the phases it is made of; infinite out of bounds."""
    hz, quality = where[1::2], where[2::2]
    inside = np.all(hz > np.log(_LOWEST_HZ) - _BESIDE[0])
    inside &= np.all(hz < np.log(_HIGHEST_HZ) + _BESIDE[0])
    inside &= np.all(quality > np.log(_DULLEST) - _BESIDE[1])
    inside &= np.all(quality < np.log(_SHARPEST) + _BESIDE[1])
    if not inside:
        return float("inf"), np.zeros(0)
    left = np.angle(sign * residue.turned * np.conj(_turn(residue, where)))
    return float(2.0 * np.sum(residue.weight * (1.0 - np.cos(left)))), left


def _slopes(residue: Residue, where: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (bands, parameters) of how each phase follows each parameter."""
    slopes = np.empty((residue.omega.size, where.size))
    slopes[:, 0] = -residue.omega
    here = _turn(residue, where)
    for column in range(1, where.size):
        aside = where.copy()
        aside[column] += _SMALL
        slopes[:, column] = np.angle(_turn(residue, aside) * np.conj(here)) / _SMALL
    return slopes
