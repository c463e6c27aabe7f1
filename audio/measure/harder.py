"""How much harder an amp is driven: how soft playing, hard playing and their harmonics changed.

More drive raises soft playing by as much, hard playing by less, harmonics by more; a level raises all
alike. What a decibel of drive does in each moment and band is foretold by the DI itself, driven through the
curve under which it comes out most like what was kept, once a little more and once a little less. A
loudspeaker and its microphone are linear (a Hammerstein model; common practice, no source), so that they
bend no difference.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.moments import Moments, level_db, moments
from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

_DRIVES_DB = tuple(range(-6, 55, 6))
"""Tried drives; at the first the curve is as good as straight."""
_STEP_DB = 1.0
_THIN = 2
"""Of so many moments one is looked at while the drive is looked for."""
_TELLS_DB = 0.04
"""RMS, about the mean of each band, of what one decibel of drive does: under it the amp bends too little,
or all playing alike, to tell a drive from a level."""
_SLOWEST, _FASTEST = 0.02, 0.48
"""Turns in a moment between which a tremolo is looked for: half a turn to eleven turns a second."""
_SWINGS = 0.7
"""A drive swings where that leaves less than so much of what a steady one leaves."""
_ENOUGH = 12
"""Moments in a band, half a second."""


@dataclass(frozen=True)
class Foretold:
    """What one decibel more drive does."""

    by_db: Floats
    """(moments, bands)"""


class Driven:
    """A DI behind a curve that bends it; what was made once is kept, for all returns ask the same.

    Parameters
    ----------
    di
        (frames,) · linear.
    rate
        Frames a second.
    """

    def __init__(self, di: Floats, *, rate: int) -> None:
        self._unit = di.astype(np.float32) / max(float(np.max(np.abs(di))), 1e-9)
        self._rate = rate
        self._made: dict[tuple[float, int], Floats] = {}

    def levels_db(self, drive_db: float, *, thin: int = 1) -> Floats:
        """Return the level of each band in each `thin`-th moment, (moments, bands), at some drive.

        The drive is over that at which the DI's loudest frame reaches the bend.
        """
        key = drive_db, thin
        if key not in self._made:
            bent = np.tanh(self._unit * np.float32(ratio_from_db(drive_db)))
            self._made[key] = level_db(moments(bent, rate=self._rate, thin=thin).bands)
        return self._made[key]


def foretell(driven: Driven, kept: Moments, clear: Bools) -> Foretold:
    """Find the curve under which the DI is most like what was kept, and what more drive does to it.

    Parameters
    ----------
    driven
        The DI.
    kept
        What came back of it.
    clear
        (moments, bands) which of its levels count.

    Returns
    -------
    Foretold
        For every moment and band.
    """
    levels, counts = level_db(kept.bands[::_THIN]), clear[::_THIN]

    def unlike(drive_db: float) -> float:
        """Return what is left between the two, each band's mean taken off."""
        left = _about_mean(levels - driven.levels_db(drive_db, thin=_THIN), counts)
        return float(np.sum(left**2))

    best = min(_DRIVES_DB, key=unlike)
    more, less = driven.levels_db(best + _STEP_DB), driven.levels_db(best - _STEP_DB)
    return Foretold((more - less) / (2.0 * _STEP_DB))


def harder_db(difference: Floats, clear: Bools, foretold: Foretold) -> float | None:
    """Return how much more drive explains a difference best.

    Each band's mean is left free, for a level or a tone moves that, too. So is a drive that swings: a
    tremolo that stands elsewhere in each take.

    Parameters
    ----------
    difference
        (moments, bands) dB.
    clear
        (moments, bands) which of them count.
    foretold
        What one decibel does.

    Returns
    -------
    float | None
        Decibels; None where a decibel does too little to be told, or too little is clear.
    """
    counts = clear & (np.count_nonzero(clear, axis=0) >= _ENOUGH)
    if not np.any(counts):
        return None
    change, one_db = (_about_mean(x, counts) for x in (difference, foretold.by_db))
    if np.sum(one_db**2) < _TELLS_DB**2 * np.count_nonzero(counts):
        return None
    alone = [one_db]
    waves = _swing(np.sum(change * np.where(counts, foretold.by_db, 0.0), axis=1))
    swings = [_about_mean(foretold.by_db * wave[:, None], counts) for wave in waves]
    (drive, left), (steady, swung) = _fitted(change, alone), _fitted(change, [*alone, *swings])
    return steady if swung < _SWINGS * left else drive


def _fitted(change: Floats, columns: Sequence[Floats]) -> tuple[float, float]:
    """Return the first column's share in a change, by least squares, and the power that is left."""
    matrix = np.stack([x.ravel() for x in columns], axis=1)
    shares = np.linalg.lstsq(matrix, change.ravel(), rcond=None)[0]
    return float(shares[0]), float(np.sum((change.ravel() - matrix @ shares) ** 2))


def _swing(change: Floats) -> tuple[Floats, Floats]:
    """Return cosine and sine, (moments,), of the frequency at which a (moments,) change swings most."""
    at = np.arange(change.size)
    turns = np.arange(_SLOWEST, _FASTEST, 1.0 / (4.0 * change.size))
    angles = 2.0 * np.pi * np.outer(turns, at)
    power = (np.cos(angles) @ change) ** 2 + (np.sin(angles) @ change) ** 2
    most = angles[int(np.argmax(power))]
    return np.cos(most), np.sin(most)


def _about_mean(values: Floats, counts: Bools) -> Floats:
    """Return values less the mean of their band, zero where they do not count."""
    taken = np.where(counts, values, 0.0)
    mean = np.sum(taken, axis=0) / np.maximum(np.count_nonzero(counts, axis=0), 1)
    return np.asarray(np.where(counts, taken - mean, 0.0))
