"""A difference of two spectra as a few simple shapes: a tilt, shelves, bumps and dips.

The shapes are those of analogue filters: a shelf of second order whose quality is 0.707, a bell. They are
put in one after the other, each time the one that explains most, and all of them are fitted together anew
(least squares), as bands see them: a steep shape does not do the same to all of a band, so what it makes of
the whole depends on where in it the sound's power lies. A constant is always among them: two sounds of
equal loudness lie apart everywhere once one of them gained somewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.optimize import least_squares

if TYPE_CHECKING:
    from collections.abc import Sequence

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
_LOG10_2 = float(np.log10(2.0))
"""Decades in an octave."""
_SMALL = 0.02
"""What a decibel of a shape costs, against one of what is left: two large ones that undo each other must
not stand for a small one."""
_MOST_DB = 40.0
_INSIDE: dict[Kind, int] = {"tilt": 0, "shelf": 1, "bell": 2}
"""Bands that lie outside a corner or middle at least, at both ends: what falls off at an end is a shelf."""


@dataclass(frozen=True)
class Bands:
    """Neighbouring bands in parts, and how a sound's power lies in each."""

    hz: Floats
    """(bands, parts) · middle of each part, ascending."""
    fill: Floats
    """(bands, parts) · share of its band's power, so each row adds up to 1."""

    @property
    def middles(self) -> Floats:
        """(bands,) · middle of each band, Hz."""
        return np.asarray(np.exp(np.mean(np.log(self.hz), axis=1)))

    def seen(self, shapes: tuple[Fitted, ...]) -> Floats:
        """Return what shapes one behind the other make of the level in each band, dB, (bands,)."""
        power = self.fill
        for one in shapes:
            power = power * shape_power(one, self.hz)
        return np.asarray(10.0 * np.log10(np.sum(power, axis=1)))


@dataclass(frozen=True)
class Fitted:
    """One shape."""

    kind: Kind
    hz: float
    """Corner or middle; not used of a tilt."""
    db: float
    """What a shelf gains above its corner, a bell in its middle, a tilt in an octave."""
    quality: float = _SHELF_Q


def shape_power(shape: Fitted, hz: Floats) -> Floats:
    """Return what a shape multiplies power by at each frequency, any shape of array."""
    if shape.kind == "tilt":
        return np.asarray((hz / _MIDDLE_HZ) ** (shape.db / 10.0 / _LOG10_2))
    square, root = (hz / shape.hz) ** 2, 10.0 ** (shape.db / 40.0)
    slope = square / shape.quality**2
    if shape.kind == "shelf":
        slope = slope * root
        power = ((1.0 - root * square) ** 2 + slope) / ((root - square) ** 2 + slope)
        return np.asarray(root**2 * power)
    even = (1.0 - square) ** 2
    return np.asarray((even + slope * root**2) / (even + slope / root**2))


def fitted(bands: Bands, db: Floats, weights: Floats) -> tuple[tuple[Fitted, ...], float]:
    """Return the shapes a difference is made of.

    Parameters
    ----------
    bands
        As the sound fills them that would have to change.
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
    constant, left = _together(shapes, bands, db, root)
    while len(shapes) < MOST and left > EXPLAINED_DB:
        tried = [
            _refined((*shapes, one), constant, bands, db, root)
            for one in _likely(shapes, constant, bands, db, root)
        ]
        if not tried:
            break
        more, constant_then, left_then = min(tried, key=lambda one: _cost(one[0], one[2]))
        if (
            _cost(more, left_then) > _GAIN * _cost(shapes, left)
            or min(_reach(one, bands) for one in more) < _LEAST_DB
        ):
            break
        shapes, constant, left = more, constant_then, left_then
    return tuple(sorted(shapes, key=lambda one: -_reach(one, bands))), left


def unit_columns(shapes: Sequence[Fitted], bands: Bands) -> Floats:
    """Return a constant and what each shape does for a decibel of it, (bands, 1 + shapes)."""
    columns = [np.ones(bands.hz.shape[0]), *(bands.seen((one,)) / one.db for one in shapes)]
    return np.array(columns).T


def _cost(shapes: tuple[Fitted, ...], left_db: float) -> float:
    sizes = sum(one.db**2 for one in shapes if one.kind != "tilt")
    return left_db**2 + _SMALL**2 * sizes


def _reach(shape: Fitted, bands: Bands) -> float:
    """Return how far a shape lifts some of the bands over the others."""
    return float(np.ptp(bands.seen((shape,))))


def _together(
    shapes: tuple[Fitted, ...], bands: Bands, db: Floats, root: Floats
) -> tuple[float, float]:
    """Return the constant that fits best beside some shapes, and the weighted RMS that is left."""
    rest = db - bands.seen(shapes)
    constant = float(np.sum(root**2 * rest))
    return constant, float(np.sqrt(np.sum((root * (rest - constant)) ** 2)))


def _likely(
    shapes: tuple[Fitted, ...], constant: float, bands: Bands, db: Floats, root: Floats
) -> list[Fitted]:
    """Return the shape of each kind that explains most of what is left; of a form that fits well enough."""
    candidates = _candidates(bands.middles)
    if not candidates:
        return []
    rest = db - constant - bands.seen(shapes)
    basis, _ = np.linalg.qr(root[:, None] * unit_columns(shapes, bands))
    weighted = root[:, None] * unit_columns(candidates, bands)[:, 1:]
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
    shapes: tuple[Fitted, ...], constant: float, bands: Bands, db: Floats, root: Floats
) -> tuple[tuple[Fitted, ...], float, float]:
    """Return shapes moved to where they fit best together, the constant, and the RMS that is left."""
    start = np.array([constant, *(value for one in shapes for value in _values(one))])
    low, high = _bounds(shapes, bands.middles)

    def off(values: Floats) -> Floats:
        made = _made(shapes, values)
        return np.append(
            root * (values[0] + bands.seen(made) - db), [_SMALL * one.db for one in made]
        )

    solved = least_squares(off, np.clip(start, low, high), bounds=(low, high), max_nfev=60)
    made = _made(shapes, solved.x)
    return made, *_together(made, bands, db, root)


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


def _candidates(there: Floats) -> list[Fitted]:
    """Return the shapes that are tried on bands whose middles lie there; none where they are too few."""
    if there.size < 2 * _INSIDE["bell"] + 2:
        return []
    octaves = float(np.log2(there[-1] / there[0]))
    places = there[0] * 2.0 ** np.linspace(0.0, octaves, round(octaves * _STEPS_PER_OCTAVE) + 1)
    return [
        Fitted("tilt", _MIDDLE_HZ, 1.0),
        *(Fitted("shelf", hz, _USUAL_DB) for hz in _within(places, there, "shelf")),
        *(
            Fitted("bell", hz, _USUAL_DB, quality)
            for hz in _within(places, there, "bell")
            for quality in _QUALITIES
        ),
    ]


def _within(places: Floats, there: Floats, kind: Kind) -> list[float]:
    """Return the places at which a kind of shape may stand."""
    inside = _INSIDE[kind]
    return [float(hz) for hz in places if there[inside] <= hz <= there[-1 - inside]]
