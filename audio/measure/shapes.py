"""A difference of two spectra as a few simple shapes: a tilt, shelves, bumps and dips.

The shapes are those of analogue filters: a shelf of second order whose quality is 0.707, a bell. They are
put in one after the other, each time the one that explains most, and all of them are fitted together anew
(least squares). A constant is always among them: two sounds of equal loudness lie apart everywhere once one
of them gained somewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.optimize import least_squares

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Kind = Literal["tilt", "shelf", "bell"]

MOST = 3
"""More shapes than these nobody dials in at once."""

EXPLAINED_DB = 0.4
"""RMS that may be left: half of what is heard of a single band (common practice, no source)."""

_LEAST_DB = 0.7
"""A shape that reaches less is not one."""
_GAIN = 0.6
"""A further shape must leave less than this share of the squares: else it follows the noise."""
_USUAL_DB = 6.0
"""Gain at which shapes are looked for; their form hardly depends on it."""
_QUALITIES = (0.7, 1.4, 2.5)
_BROADEST, _NARROWEST = 0.5, 3.0
"""Qualities of a bell: third octaves see no narrower one as what it is."""
_STEPS_PER_OCTAVE = 6
_SHELF_Q = float(np.sqrt(0.5))
_MIDDLE_HZ = 1000.0
_SMALL = 0.02
"""What a decibel of a shape costs, against one of what is left: two large ones that undo each other must
not stand for a small one."""
_MOST_DB = 40.0
_INSIDE: dict[Kind, int] = {"tilt": 0, "shelf": 1, "bell": 2}
"""Bands that lie outside a corner or middle at least, at both ends: what falls off at an end is a shelf."""


@dataclass(frozen=True)
class Fitted:
    """One shape."""

    kind: Kind
    hz: float
    """Corner or middle; not used of a tilt."""
    db: float
    """What a shelf gains above its corner, a bell in its middle, a tilt in an octave."""
    quality: float = _SHELF_Q


def shape_db(shape: Fitted, hz: Floats) -> Floats:
    """Return what a shape does at each frequency, dB."""
    if shape.kind == "tilt":
        return np.asarray(shape.db * np.log2(hz / _MIDDLE_HZ))
    s = 1j * hz / shape.hz
    root = 10.0 ** (shape.db / 40.0)
    if shape.kind == "shelf":
        middle = np.sqrt(root) / shape.quality * s
        gain = root * (root * s**2 + middle + 1.0) / (s**2 + middle + root)
    else:
        gain = (s**2 + s * root / shape.quality + 1.0) / (s**2 + s / (root * shape.quality) + 1.0)
    return np.asarray(20.0 * np.log10(np.abs(gain)))


def fitted(hz: Floats, db: Floats, weights: Floats) -> tuple[tuple[Fitted, ...], float]:
    """Return the shapes a difference is made of.

    Parameters
    ----------
    hz
        (bands,) · middle of each band, ascending.
    db
        (bands,) · the difference.
    weights
        (bands,) · how sure each is, one over its variance.

    Returns
    -------
    tuple of tuple of Fitted, and float
        At most `MOST`, none where a constant explains all, the largest first; and the weighted RMS they
        leave, dB.
    """
    root = np.sqrt(weights / np.sum(weights))
    shapes: tuple[Fitted, ...] = ()
    constant, left = _together(shapes, hz, db, root)
    while len(shapes) < MOST and left > EXPLAINED_DB:
        tried = [
            _refined((*shapes, one), constant, hz, db, root)
            for one in _likely(shapes, constant, hz, db, root)
        ]
        if not tried:
            break
        more, constant_then, left_then = min(tried, key=lambda one: _cost(one[0], one[2]))
        if (
            _cost(more, left_then) > _GAIN * _cost(shapes, left)
            or min(_reach(one, hz) for one in more) < _LEAST_DB
        ):
            break
        shapes, constant, left = more, constant_then, left_then
    return tuple(sorted(shapes, key=lambda one: -_reach(one, hz))), left


def unit_columns(shapes: tuple[Fitted, ...], hz: Floats) -> Floats:
    """Return a constant and what each shape does for a decibel of it, (bands, 1 + shapes)."""
    columns = [np.ones_like(hz), *(shape_db(one, hz) / one.db for one in shapes)]
    return np.array(columns).T


def _cost(shapes: tuple[Fitted, ...], left_db: float) -> float:
    sizes = sum(one.db**2 for one in shapes if one.kind != "tilt")
    return left_db**2 + _SMALL**2 * sizes


def _reach(shape: Fitted, hz: Floats) -> float:
    """Return how far a shape lifts some of the bands over the others."""
    return float(np.ptp(shape_db(shape, hz)))


def _together(
    shapes: tuple[Fitted, ...], hz: Floats, db: Floats, root: Floats
) -> tuple[float, float]:
    """Return the constant that fits best beside some shapes, and the weighted RMS that is left."""
    rest = db - sum((shape_db(one, hz) for one in shapes), np.zeros_like(hz))
    constant = float(np.sum(root**2 * rest))
    return constant, float(np.sqrt(np.sum((root * (rest - constant)) ** 2)))


def _likely(
    shapes: tuple[Fitted, ...], constant: float, hz: Floats, db: Floats, root: Floats
) -> list[Fitted]:
    """Return the shape of each kind that explains most of what is left; of a form that fits well enough."""
    candidates, columns = _candidates(tuple(hz.tolist()))
    if not candidates:
        return []
    rest = db - constant - sum((shape_db(one, hz) for one in shapes), np.zeros_like(hz))
    basis, _ = np.linalg.qr(root[:, None] * unit_columns(shapes, hz))
    weighted = root[:, None] * columns
    weighted -= basis @ (basis.T @ weighted)
    size = np.maximum(np.sum(weighted**2, axis=0), 1e-9)
    along = weighted.T @ (root * rest) / size
    explains = along**2 * size
    found = []
    for kind in ("tilt", "shelf", "bell"):
        there = np.array([one.kind == kind for one in candidates])
        at = int(np.argmax(np.where(there, explains, -1.0)))
        one = candidates[at]
        gain = float(along[at]) * (1.0 if kind == "tilt" else _USUAL_DB)
        found.append(
            Fitted(one.kind, one.hz, float(np.clip(gain, -_MOST_DB, _MOST_DB)), one.quality)
        )
    return found


def _refined(
    shapes: tuple[Fitted, ...], constant: float, hz: Floats, db: Floats, root: Floats
) -> tuple[tuple[Fitted, ...], float, float]:
    """Return shapes moved to where they fit best together, the constant, and the RMS that is left."""
    start = np.array([constant, *(value for one in shapes for value in _values(one))])
    low, high = _bounds(shapes, hz)

    def off(values: Floats) -> Floats:
        made = _made(shapes, values)
        there = sum((shape_db(one, hz) for one in made), np.full_like(hz, values[0]))
        return np.append(root * (there - db), [_SMALL * one.db for one in made])

    solved = least_squares(off, np.clip(start, low, high), bounds=(low, high), max_nfev=60)
    made = _made(shapes, solved.x)
    return made, *_together(made, hz, db, root)


def _values(shape: Fitted) -> tuple[float, float, float]:
    return shape.db, float(np.log2(shape.hz)), float(np.log2(shape.quality))


def _made(shapes: tuple[Fitted, ...], values: Floats) -> tuple[Fitted, ...]:
    rows = values[1:].reshape(-1, 3)
    return tuple(
        Fitted(one.kind, float(2.0**hz), float(db) or 1e-9, float(2.0**quality))
        for one, (db, hz, quality) in zip(shapes, rows, strict=True)
    )


def _bounds(shapes: tuple[Fitted, ...], hz: Floats) -> tuple[Floats, Floats]:
    """Return between what constant, gains, places and qualities may move."""
    low, high = [-200.0], [200.0]
    for one in shapes:
        inside = _INSIDE[one.kind]
        first, last = float(np.log2(hz[inside])), float(np.log2(hz[-1 - inside]))
        quality = float(np.log2(one.quality))
        narrow = (np.log2(_BROADEST), np.log2(_NARROWEST))
        least, most = narrow if one.kind == "bell" else (quality - 1e-6, quality + 1e-6)
        low += [-_MOST_DB, first - 1e-6, float(least)]
        high += [_MOST_DB, last + 1e-6, float(most)]
    return np.array(low), np.array(high)


@lru_cache(maxsize=8)
def _candidates(hz: tuple[float, ...]) -> tuple[tuple[Fitted, ...], Floats]:
    """Return the shapes that are tried, and what each does for a decibel, (bands, shapes)."""
    there = np.array(hz)
    if there.size < 2 * _INSIDE["bell"] + 2:
        return (), np.zeros((there.size, 0))
    octaves = float(np.log2(there[-1] / there[0]))
    places = there[0] * 2.0 ** np.linspace(0.0, octaves, round(octaves * _STEPS_PER_OCTAVE) + 1)
    shapes = (
        Fitted("tilt", _MIDDLE_HZ, 1.0),
        *(Fitted("shelf", hz, _USUAL_DB) for hz in _within(places, there, "shelf")),
        *(
            Fitted("bell", hz, _USUAL_DB, quality)
            for hz in _within(places, there, "bell")
            for quality in _QUALITIES
        ),
    )
    return shapes, unit_columns(shapes, there)[:, 1:]


def _within(places: Floats, there: Floats, kind: Kind) -> list[float]:
    """Return the places at which a kind of shape may stand."""
    inside = _INSIDE[kind]
    return [float(hz) for hz in places if there[inside] <= hz <= there[-1 - inside]]
