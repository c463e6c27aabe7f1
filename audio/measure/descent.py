"""Many fits at once: delays and allpasses that explain phases, each led down to its nearest minimum.

A fit is a weighted least squares of phases in narrow bands (Gauss and Newton with Levenberg's damping, as
in any textbook of numerical methods). All take their steps together, in rows of one array, each with its
own damping and its own end: on so few numbers a step costs what it costs to call for one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Reals = NDArray[np.float64]
    Turns = NDArray[np.complex128]

_Number = TypeVar("_Number", np.float64, np.complex128)

LOWEST_HZ, HIGHEST_HZ = 350.0, 4200.0
DULLEST, SHARPEST = 0.5, 1.7
"""Where allpass sections turn, and their quality: two equal sections of first order make 0.5, and nothing
in an audio path is duller (common practice, no source)."""
_BESIDE = (0.1, 0.2)
"""How far, in logarithms of frequency and quality, a fit may leave those limits."""
_LEAST = np.asarray([np.log(LOWEST_HZ) - _BESIDE[0], np.log(DULLEST) - _BESIDE[1]])
_MOST = np.asarray([np.log(HIGHEST_HZ) + _BESIDE[0], np.log(SHARPEST) + _BESIDE[1]])
_STEPS = 12
_SMALL = 1e-4


@dataclass(frozen=True, kw_only=True)
class Residue:
    """Phases in narrow bands."""

    turned: Turns
    """(bands,) · each of length 1."""
    weight: Reals
    """(bands,) · one over the variance of its phase, in radians squared."""
    omega: Reals
    """(bands,) · radians a frame."""
    rate: int

    @cached_property
    def circle(self) -> tuple[Reals, Reals]:
        """Cosine and sine of `omega`."""
        return np.cos(self.omega), np.sin(self.omega)


@dataclass(frozen=True, kw_only=True)
class Begun:
    """Where a fit begins."""

    residue: Residue
    at: float
    """Delay, frames."""
    sign: float
    """−1.0 or 1.0, kept."""
    sections: tuple[float, ...] = ()
    """Allpasses: logarithms of frequency in hertz and quality, by turns."""


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
            not np.log(DULLEST) <= quality <= np.log(SHARPEST) for quality in self.sections[1::2]
        )


def polished(begun: Sequence[Begun]) -> list[Fit | None]:
    """Return the fit nearest to each beginning, None where it leaves its limits.

    Parameters
    ----------
    begun
        Beginnings, all with as many sections.

    Returns
    -------
    list of Fit | None
        With the nearest minimum of the weighted square.
    """
    if not begun:
        return []
    descent = _Descent(begun)
    for _ in range(_STEPS):
        if descent.done:
            break
        descent.step()
    return descent.fits()


def allpasses(omega: Reals, sections: Reals, *, rate: int) -> Turns:
    """Return what turns back an allpass section of second order.

    Parameters
    ----------
    omega
        (bands,) · radians a frame.
    sections
        (sections, 2) · logarithms of frequency in hertz and quality.
    rate
        Frames a second.

    Returns
    -------
    NDArray[np.complex128]
        (sections, bands) · each of length 1.
    """
    parts = _parts((np.cos(omega), np.sin(omega)), sections, rate=rate)
    return _turns_back(*parts)


def _parts(circle: tuple[Reals, Reals], sections: Reals, *, rate: int) -> tuple[Reals, Reals]:
    """Return what an allpass of second order is made of: its turn is that of (a − ib) over (a + ib)."""
    cosine, sine = circle
    turn = 2.0 * np.pi * np.exp(sections[:, :1]) / rate
    slack = np.sin(turn) / (2.0 * np.exp(sections[:, 1:]))
    return cosine - np.cos(turn), slack * sine


def _turns_back(real: Reals, imaginary: Reals) -> Turns:
    """Return what turns back the allpasses made of these two."""
    whole = real + 1j * imaginary
    return np.asarray(whole / np.conj(whole))


def _filled(values: Sequence[NDArray[_Number]], fill: float) -> NDArray[_Number]:
    """Return (values, bands), the shorter ones filled up."""
    bands = max(some.size for some in values)
    rows = np.full((len(values), bands), fill, dtype=values[0].dtype)
    for row, some in zip(rows, values, strict=True):
        row[: some.size] = some
    return rows


@dataclass(frozen=True, kw_only=True)
class _Stack:
    """Residues in rows, the shorter ones filled up with bands of no weight."""

    turned: Turns
    """(rows, bands) · times the sign."""
    weight: Reals
    omega: Reals
    circle: tuple[Reals, Reals]
    rate: int

    @classmethod
    def of(cls, begun: Sequence[Begun]) -> _Stack:
        residues = [one.residue for one in begun]
        return cls(
            turned=_filled([one.sign * one.residue.turned for one in begun], 1.0),
            weight=_filled([one.weight for one in residues], 0.0),
            omega=_filled([one.omega for one in residues], 0.0),
            circle=(
                _filled([one.circle[0] for one in residues], 1.0),
                _filled([one.circle[1] for one in residues], 0.0),
            ),
            rate=residues[0].rate,
        )

    def only(self, rows: NDArray[np.bool_]) -> _Stack:
        """Return some of the rows."""
        return _Stack(
            turned=self.turned[rows],
            weight=self.weight[rows],
            omega=self.omega[rows],
            circle=(self.circle[0][rows], self.circle[1][rows]),
            rate=self.rate,
        )

    def cost(self, where: Reals) -> tuple[Reals, Reals]:
        """Return (rows,) weighted squares that are left, infinite out of bounds, and each phase's sine."""
        left = self.turned * np.exp(1j * self.omega * where[:, :1])
        inside = np.ones(where.shape[0], dtype=np.bool_)
        for at in range(1, where.shape[1], 2):
            section = where[:, at : at + 2]
            within = np.clip(section, _LEAST, _MOST)
            inside &= np.all((section > _LEAST) & (section < _MOST), axis=1)
            left *= _turns_back(*_parts(self.circle, within, rate=self.rate))
        cost = 2.0 * np.sum(self.weight * (1.0 - left.real), axis=1)
        return np.where(inside, cost, np.inf), left.imag

    def slopes(self, where: Reals) -> Reals:
        """Return (rows, parameters, bands) of how each phase follows each parameter."""
        slopes = np.empty((*where.shape, self.omega.shape[1]))
        slopes[:, 0] = -self.omega
        for at in range(1, where.shape[1], 2):
            section = where[:, at : at + 2]
            real, imaginary = _parts(self.circle, section, rate=self.rate)
            for of in (0, 1):
                aside = section.copy()
                aside[:, of] += _SMALL
                there, turned = _parts(self.circle, aside, rate=self.rate)
                angle = np.arctan2(
                    imaginary * there - real * turned, real * there + imaginary * turned
                )
                slopes[:, at + of] = 2.0 * angle / _SMALL
        return slopes


class _Descent:
    """Fits on their way down, in rows; those that have arrived take no more steps.

    Parameters
    ----------
    begun
        Where they begin.
    """

    def __init__(self, begun: Sequence[Begun]) -> None:
        self._begun, self._stack = begun, _Stack.of(begun)
        self._where = np.asarray([[one.at, *one.sections] for one in begun])
        self._cost, self._left = self._stack.cost(self._where)
        self._damping = np.full(len(begun), 1e-2)
        self._bends = np.zeros((*self._where.shape, self._where.shape[1]))
        self._rows = np.arange(len(begun))
        self._go_on_with(np.isfinite(self._cost))

    @property
    def done(self) -> bool:
        """Whether all have arrived."""
        return not self._rows.size

    def step(self) -> None:
        """Take a step with each that goes on; one that leads up is taken back and the next is shorter."""
        rows, before = self._rows, self._cost[self._rows]
        there = self._where[rows] + self._way()
        cost, left = self._stack.cost(there)
        better = cost < before
        damping = self._damping[rows]
        self._damping[rows] = np.where(better, np.maximum(damping / 5.0, 1e-6), damping * 8.0)
        self._where[rows[better]], self._cost[rows[better]] = there[better], cost[better]
        self._left[better] = left[better]
        self._go_on_with(~(better & (before - cost < _SMALL * before + 1e-3)))

    def fits(self) -> list[Fit | None]:
        """Return where each has come to."""
        variances = np.linalg.pinv(self._bends)[:, 0, 0]
        return [self._fit(row, float(variance)) for row, variance in enumerate(variances)]

    def _way(self) -> Reals:
        """Return (rows, parameters) of the next step."""
        slopes = self._stack.slopes(self._where[self._rows])
        weighted = slopes * self._stack.weight[:, None, :]
        bends = weighted @ slopes.transpose(0, 2, 1)
        self._bends[self._rows] = bends
        damped = _damped(bends, self._damping[self._rows])
        return np.asarray(np.linalg.solve(damped, weighted @ self._left[:, :, None])[:, :, 0])

    def _go_on_with(self, some: NDArray[np.bool_]) -> None:
        if not np.all(some):
            self._rows, self._left = self._rows[some], self._left[some]
            self._stack = self._stack.only(some)

    def _fit(self, row: int, variance: float) -> Fit | None:
        if not np.isfinite(self._cost[row]):
            return None
        one, bands = self._begun[row], self._begun[row].residue.weight.size
        return Fit(
            at=float(self._where[row, 0]),
            sign=one.sign,
            misfit=float(self._cost[row]) / bands,
            bands=bands,
            variance=variance,
            sections=tuple(float(v) for v in self._where[row, 1:]),
        )


def _damped(bends: Reals, damping: Reals) -> Reals:
    """Return (rows, parameters, parameters) with their diagonals made so much larger."""
    at = np.arange(bends.shape[1])
    damped = bends.copy()
    damped[:, at, at] += damping[:, None] * (bends[:, at, at] + 1e-9)
    return damped
