"""The phase that is left of a response once its least phase is out: a pure delay, a sign, and allpasses.

What no minimum phase explains is a straight line of phase over frequency, which is the delay that is
sought, and whatever turns phase and leaves magnitude alone: two speakers that do not move together, a
filter in front of them. Such a turn is fitted as an allpass section of second order; up to two of them.
The fits (`audio.measure.descent`) are begun from the best of a grid.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.descent import (
    DULLEST,
    HIGHEST_HZ,
    LOWEST_HZ,
    SHARPEST,
    Begun,
    Fit,
    Residue,
    allpasses,
    polished,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

EARLIEST_S = 0.0012
LATEST_S = 0.0003
"""How far before and after column 0 the response may begin."""

_GRID = (11, 3)
_APART = 12
_POLISHED = 3
"""Best points of a grid that are begun from."""


def best_fits(residues: Sequence[Residue], *, sections: int) -> list[tuple[Fit, ...]]:
    """Return the best fit of either sign with so many allpass sections, the better first.

    Parameters
    ----------
    residues
        Phases; column 0 is about where the response begins.
    sections
        0, 1 or 2.

    Returns
    -------
    list of tuple of Fit
        For each residue two, or one where no fit of the other sign stays within limits, or none.
    """
    begun = [one for residue in residues for one in _beginnings(residue, sections)]
    fits = polished(begun)
    each = len(begun) // (2 * len(residues)) if residues else 1
    best = [
        min((fit for fit in fits[at : at + each] if fit), key=_misfit, default=None)
        for at in range(0, len(fits), each)
    ]
    both = zip(best[::2], best[1::2], strict=True)
    return [tuple(sorted((fit for fit in two if fit), key=_misfit)) for two in both]


def _misfit(fit: Fit) -> float:
    return fit.misfit


def _beginnings(residue: Residue, sections: int) -> list[Begun]:
    """Return the best points of the grid, as many for either sign."""
    delays, shifts = _delays(residue)
    grid = _grid(sections)
    back = _back(residue, sections) * (residue.turned * residue.weight)
    tops = back.real @ shifts.real - back.imag @ shifts.imag
    begun = []
    for sign in (1.0, -1.0):
        highest = np.argsort(np.max(sign * tops, axis=1))[::-1][:_POLISHED]
        begun += [
            Begun(
                residue=residue,
                at=float(delays[np.argmax(sign * tops[i])]),
                sign=sign,
                sections=grid[i],
            )
            for i in highest
        ]
    return begun


def _delays(residue: Residue) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """Return delays half a frame apart, and (bands, delays) of what each of them turns back."""
    first, last = round(EARLIEST_S * residue.rate), round(LATEST_S * residue.rate)
    delays = np.arange(-first, last + 0.1, 0.5)
    # Of a few delays far apart and a few half frames: a product costs a tenth of what a power does.
    far = np.exp(1j * np.outer(residue.omega, delays[::_APART]))
    near = np.exp(1j * np.outer(residue.omega, 0.5 * np.arange(_APART)))
    both = far[:, :, None] * near[:, None, :]
    return delays, both.reshape(residue.omega.size, -1)[:, : delays.size]


@lru_cache(maxsize=3)
def _grid(sections: int) -> tuple[tuple[float, ...], ...]:
    """Return sections to begin from; two of them in all pairs."""
    hz = np.log(np.geomspace(LOWEST_HZ, HIGHEST_HZ, _GRID[0]))
    quality = np.log(np.geomspace(DULLEST, SHARPEST, _GRID[1]))
    one = [(float(f), float(q)) for f in hz for q in quality]
    pairs = combinations_with_replacement(one, sections)
    return tuple(tuple(v for section in some for v in section) for some in pairs)


def _back(residue: Residue, sections: int) -> NDArray[np.complex128]:
    """Return (points, bands) of what turns back the sections of each point of the grid."""
    if sections == 0:
        return np.ones((1, residue.omega.size), dtype=np.complex128)
    one = allpasses(residue.omega, np.asarray(_grid(1)), rate=residue.rate)
    if sections == 1:
        return one
    first, second = np.triu_indices(len(one))  # the order of combinations with replacement
    return np.asarray(one[first] * one[second])
