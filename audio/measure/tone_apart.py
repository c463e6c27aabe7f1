"""Two spectra where the DI plays: noise taken off, at equal loudness, in bands and in shapes.

How far a difference is trusted is told by the sounds themselves (`audio.measure.jackknife`), so that what a
tremolo or an amp does by itself is not told as a difference.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace

from audio.measure.heard_sound import RunningDi, RunningSound
from audio.measure.jackknife import spread, without_each
from audio.measure.shapes import Bands, Fitted, fitted, unit_columns
from audio.measure.third_rows import bands_at, middles_of_parts
from audio.measure.thirds import exact_hz
from audio.measure.weighting import a_weighting
from audio.vocab.differences import Apart, Differences, Shape, ThirdApart
from audio.vocab.levels import ThirdLevel
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audio.measure.rests import Rest

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

CLEAR = 4.0
"""Power over the noise's from which on a band counts: 6 dB, the noise taken off is then wrong by tenths."""

HEARD_DB = 45.0
"""A band so far under the loudest, A-weighted, is not heard beside it (common practice, no source)."""

TRUSTED_DB = 30.0
"""The same where the DI never rests, so that nobody knows what is noise: an idle amp lies further under
its playing than this (common practice, no source)."""

SURE_DB = 0.3
"""No band is trusted further: microphones and converters ripple by as much (common practice, no source)."""

DARK_HZ = 630.0
"""A shelf whose corner lies under this is told by what lies below it: an amp makes most above."""

TINY = 1e-20
"""Mean square, −200 dBFS: silence."""


@dataclass(frozen=True)
class Played:
    """One sound where the DI plays."""

    rows: Floats
    """(rows, bands) mean square."""
    parts: Floats
    """(bands, parts) mean square in the parts of each, noise taken off."""
    weighted: Floats
    """(rows,) K-weighted mean square."""
    noise: Floats
    """(bands,) mean square where the DI rests; zeros where nobody knows."""
    is_noise_known: bool

    @property
    def clean(self) -> Floats:
        """(bands,) mean square, noise taken off."""
        return np.asarray(np.mean(self.rows, axis=0) - self.noise)

    @property
    def is_clear(self) -> Bools:
        """(bands,) whether the playing stands clear of the noise."""
        return np.asarray(np.mean(self.rows, axis=0) > np.maximum(CLEAR * self.noise, TINY))


@dataclass(frozen=True)
class Along:
    """Both sounds, row by row."""

    a: Played
    b: Played

    @classmethod
    def of(
        cls,
        di: RunningDi,
        a: tuple[RunningSound, Rest | None],
        b: tuple[RunningSound, Rest | None],
    ) -> Along:
        """Return them of two sounds that came in beside their DI, each with what it is in a rest."""
        plays = di.playing(a[0].thirds.rows().shape[0])
        return cls(_played(*a, plays), _played(*b, plays))

    def louder(self) -> Floats:
        """Return how much louder B is without each stretch in turn, (stretches,)."""
        return level_db(without_each(self.b.weighted)) - level_db(without_each(self.a.weighted))

    def apart(self) -> Floats:
        """Return the same of each band, (stretches, bands), at equal loudness."""
        a, b = (without_each(one.rows) - one.noise for one in (self.a, self.b))
        return np.asarray(level_db(b) - level_db(a) - self.louder()[:, None])


def _played(sound: RunningSound, rest: Rest | None, plays: Bools) -> Played:
    parts = sound.thirds.rows()
    rows = np.sum(parts, axis=2)
    known = rest.parts if rest else None
    noise = np.zeros(parts.shape[1:]) if known is None else known
    return Played(
        rows=rows[plays],
        parts=np.mean(parts[plays], axis=0) - noise,
        weighted=sound.weighted_rows(rows.shape[0])[plays],
        noise=np.sum(noise, axis=1),
        is_noise_known=known is not None,
    )


def levels(part: Played, rate: int) -> tuple[ThirdLevel, ...]:
    """Return the RMS in each band where the DI plays; none where it never does."""
    if not part.rows.size:
        return ()
    power = np.mean(part.rows, axis=0)
    return tuple(
        ThirdLevel(hz=hz, dbfs=db_from_ratio(float(np.sqrt(one))))
        for hz, one in zip(bands_at(rate), power, strict=True)
    )


def with_tone(told: Differences, along: Along, louder: float, rate: int) -> Differences:
    """Return differences with those of the spectrum, at equal loudness."""
    names = bands_at(rate)
    heard = _heard(along, rate)
    if not np.any(heard):
        return told
    db = np.where(heard, level_db(along.b.clean) - level_db(along.a.clean) - louder, 0.0)
    anew = along.apart()
    unsure = spread(anew)
    thirds = tuple(
        ThirdApart(
            hz=hz,
            apart=Apart(
                db=float(db[at]), plus_minus_db=None if unsure is None else float(unsure[at])
            )
            if heard[at]
            else None,
        )
        for at, hz in enumerate(names)
    )
    bands = _filled(along.a, heard, rate)
    variance = SURE_DB**2 + (0.0 if unsure is None else unsure[heard] ** 2)
    weights = np.broadcast_to(1.0 / variance, db[heard].shape)
    shapes, left = fitted(bands, db[heard], weights)
    return replace(
        told, thirds=thirds, shapes=_told(shapes, bands, weights, anew[:, heard]), left_db=left
    )


def _filled(sound: Played, heard: Bools, rate: int) -> Bands:
    """Return the bands that are compared, as a sound fills them."""
    power = np.maximum(sound.parts[heard], TINY)
    fill = power / np.sum(power, axis=1, keepdims=True)
    return Bands(hz=middles_of_parts(bands_at(rate))[heard], fill=fill)


def _heard(along: Along, rate: int) -> Bools:
    """Return which bands are compared, (bands,)."""
    if not along.a.rows.size:
        return np.zeros(along.a.noise.size, dtype=bool)
    ear = a_weighting(np.array([exact_hz(name) for name in bands_at(rate)]))
    is_known = along.a.is_noise_known and along.b.is_noise_known
    reach = HEARD_DB if is_known else TRUSTED_DB
    near = np.zeros(ear.size, dtype=bool)
    for one in (along.a, along.b):
        near |= ear * one.clean >= np.max(ear * one.clean) * 10.0 ** (-reach / 10.0)
    return np.asarray(near & along.a.is_clear & along.b.is_clear)


def _told(
    shapes: tuple[Fitted, ...], bands: Bands, weights: Floats, anew: Floats
) -> tuple[Shape, ...]:
    """Return shapes as they are told, each with how much of it moves from stretch to stretch."""
    root = np.sqrt(weights)[:, None]
    solve = np.linalg.pinv(root * unit_columns(shapes, bands)) * root.T
    unsure = spread(anew @ solve.T) if shapes else None
    return tuple(
        _shape(one, None if unsure is None else float(unsure[1 + at]))
        for at, one in enumerate(shapes)
    )


def _shape(one: Fitted, unsure: float | None) -> Shape:
    if one.kind == "tilt":
        return Shape(kind="tilt", hz=None, apart=Apart(db=one.db, plus_minus_db=unsure))
    if one.kind == "bell":
        return Shape(kind="around", hz=one.hz, apart=Apart(db=one.db, plus_minus_db=unsure))
    if one.hz < DARK_HZ:
        # So much more above is so much less below: a constant makes one of the other.
        return Shape(kind="below", hz=one.hz, apart=Apart(db=-one.db, plus_minus_db=unsure))
    return Shape(kind="above", hz=one.hz, apart=Apart(db=one.db, plus_minus_db=unsure))


def apart(db: float, anew: Floats) -> Apart:
    """Return a difference, and how far it is trusted by what it was without each stretch."""
    unsure = spread(anew)
    return Apart(db=db, plus_minus_db=None if unsure is None else float(unsure))


def level_db(power: Floats) -> Floats:
    """Return mean squares of any shape in dB; what is no power at all counts as very little."""
    return np.asarray(10.0 * np.log10(np.maximum(power, TINY)))
