"""Edit joints: a step in a DI, or in its slope, that no string makes and a loud amp makes a click of.

What linear prediction leaves of playing is small and of like level on both sides of a joint, and what the
joint leaves in it has a known shape (`audio.measure.joint_fit`). An attack leaves its own shape and a level
that has risen behind it. Joints under a crossfade of a millisecond or more are no steps, and not found.

Of Gaussian noise alone one sample in a minute of 48 kHz reaches 14.1 dB over its RMS; the limits below lie
above that because what is left of playing is no Gaussian noise. They were set on `TUNED` of
`tests/benchmarks/edit_material.py` and are judged on `JUDGED`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.finest import smallest_step
from audio.measure.joint_fit import EARLIER, LATER, SPAN, Fits, fits
from audio.measure.prediction import Predicted, block_frames, predicted
from audio.vocab.readiness import EditJoint
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Bools = NDArray[np.bool_]
    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Singles = NDArray[np.float32]

SMALLEST = 4.4
"""Step over the residual's RMS from which one is told, 12.9 dB."""
_CHUNKS = 16
"""Level is taken of so many pieces of a block."""
_SIDE = 8
"""Pieces whose median is the level on one side: 11 ms, which a joint or a click in it does not move."""
_LOOKED = 4.5
"""Largest residual over that level from which a place is looked at."""
_CLEAR = 8.0
_LEFT = 0.27
"""Share the fit may leave: joints of 14 dB leave 0.1 to 0.25, attacks half and more."""
_LEFT_RMS = 1.7
_LEFT_OF_CLEAR = 0.05
"""What a fit leaves over its height: what is rounded in a large joint."""
_ROUND = 16
"""Pieces to both sides, 23 ms, on one of which at least nothing as high may stand."""
_ALIKE = 0.7
_COMPANY_S = 0.5
_COMPANY = 8
"""Places of no joint, as high as 0.6 of one, that make it one of them: a fuzz leaves many."""
_SHADES = 4.0
"""Height over that of a neighbour within a block, from which the neighbour counts as its work."""
_FLAT = 3
"""Equal samples in a row, a top cut off: its corners are no joints."""
_SURE = (3.28, -11.4, -1.46)
"""Log odds that a finding is right: always, by what the fit leaves, by the logarithm of 1 + its company.
Fitted on `TUNED`, distorted playing in it, with one joint every two seconds."""
_PIECE = 128
"""Blocks that are looked at together."""


def find_edit_joints(samples: NDArray[np.float32], *, rate: int) -> tuple[EditJoint, ...]:
    """Find the edit joints of a DI.

    Parameters
    ----------
    samples
        (frames,) · linear, full scale 1.0 · the whole DI, mono, any length.
    rate
        Frames a second.

    Returns
    -------
    tuple[EditJoint, ...]
        By frame. Not in the first and the last 21 ms of what the file holds: a step there is the edge's.
    """
    sounding = np.flatnonzero(samples[:1]) if samples.size < 2 * SPAN else _ends(samples)
    if sounding.size < 2:
        return ()
    seen = _places(samples, rate)
    company = _company(seen, rate)
    like = _like_joints(seen) & (company <= _COMPANY)
    edge = block_frames(rate=rate)
    like &= (seen.frame > sounding[0] + edge) & (seen.frame < sounding[1] - edge)
    places = [int(at) for at in np.flatnonzero(like) if not _flat(samples, int(seen.frame[at]))]
    clear = _unshaded(seen, _apart(seen, places), edge)
    return tuple(_told(seen, at, int(company[at])) for at in clear)


@dataclass(frozen=True)
class _Places:
    """Places that were looked at, by frame; all (places,)."""

    frame: Ints
    is_step: Bools
    size: Floats
    """Over the residual's RMS of both sides."""
    clear: Floats
    left: Floats
    left_rms: Floats
    crowded: Floats
    """Largest residual of the quieter side over that at the place itself."""


# ------------------------------------------------------------------ looked at


def _places(samples: Singles, rate: int) -> _Places:
    parts = list(_parts(samples, rate))
    columns = [np.concatenate([part[at] for part in parts]) for at in range(7)]
    order = np.argsort(columns[0], kind="stable")
    frame, is_step, *others = (column[order] for column in columns)
    return _Places(frame.astype(np.intp), is_step > 0.0, *others)


def _parts(samples: Singles, rate: int) -> Iterator[Floats]:
    """Yield the numbers of the places in each piece, (7, places)."""
    blocks = -(-samples.shape[0] // block_frames(rate=rate))
    finest = _quantum(samples)
    for first in range(0, blocks, _PIECE):
        count = min(_PIECE, blocks - first)
        part = predicted(samples, first=first - 2, blocks=count + 4, rate=rate)
        yield _looked(part, finest)


def _looked(part: Predicted, finest: float) -> Floats:
    chunk = part.block // _CHUNKS
    power = (part.residual * part.residual).reshape(-1, chunk)
    top = np.sqrt(np.max(power, axis=1))
    before, after = _levels(np.mean(power, axis=1))
    level = np.maximum(np.maximum(before, after), finest)
    inside = slice(2 * _CHUNKS, -2 * _CHUNKS)
    at = np.flatnonzero(top[inside] > _LOOKED * level[inside]) + 2 * _CHUNKS
    if not at.size:
        return np.zeros((7, 0))
    frames = at * chunk + np.argmax(power[at], axis=1)
    around = part.residual[frames[:, None] + np.arange(-EARLIER, LATER + SPAN)]
    fit = fits(around, part.coefficients[frames // part.block], level[at])
    both = np.maximum(np.sqrt((before[at] ** 2 + after[at] ** 2) / 2.0), finest)
    crowded = _crowded(top, at) / np.max(np.abs(around), axis=1)
    return _row(frames + fit.shift + part.first_frame, fit, both, crowded)


def _row(frames: Ints, fit: Fits, both: Floats, crowded: Floats) -> Floats:
    kinds = fit.is_step.astype(np.float64)
    size = fit.size / both
    return np.stack(
        (frames.astype(np.float64), kinds, size, fit.clear, fit.left, fit.left_rms, crowded)
    )


def _levels(power: Singles) -> tuple[Floats, Floats]:
    """Return the usual level before and behind each piece and its neighbours, both (pieces,)."""
    usual = np.median(np.lib.stride_tricks.sliding_window_view(power, _SIDE), axis=1)
    level = np.sqrt(usual.astype(np.float64))
    before, after = np.zeros(power.size), np.zeros(power.size)
    before[_SIDE + 1 :] = level[:-2]
    after[: -_SIDE - 1] = level[2:]
    return before, after


def _crowded(top: Singles, at: Ints) -> Floats:
    away = np.arange(2, 2 + _ROUND)
    sides = [np.max(top[at[:, None] + sign * away], axis=1) for sign in (-1, 1)]
    return np.asarray(np.minimum(*sides), dtype=np.float64)


def _quantum(samples: Singles) -> float:
    """Return half of the smallest step of a few stretches: what one code more or less is worth."""
    return max(0.5 * smallest_step(samples), float(np.finfo(np.float32).tiny))


# ------------------------------------------------------------------ told apart


def _like_joints(seen: _Places) -> Bools:
    explained = (seen.left < _LEFT) & (
        seen.left_rms < np.maximum(_LEFT_RMS, _LEFT_OF_CLEAR * seen.clear)
    )
    stands = (seen.size > SMALLEST) & (seen.clear > _CLEAR) & (seen.crowded < _ALIKE)
    return np.asarray(explained & stands)


def _company(seen: _Places, rate: int) -> Ints:
    """Return how many places of no joint, as high as 0.6 of it, stand around each that is like one."""
    out = np.zeros(seen.frame.size, dtype=np.intp)
    like = _like_joints(seen)
    others = np.flatnonzero(~like)
    frames, reach = seen.frame[others], round(_COMPANY_S * rate)
    for at in np.flatnonzero(like):
        low, high = np.searchsorted(frames, (seen.frame[at] - reach, seen.frame[at] + reach))
        out[at] = np.count_nonzero(seen.clear[others[low:high]] > 0.6 * seen.clear[at])
    return out


def _flat(samples: Singles, frame: int) -> bool:
    """Return whether samples stand still beside a frame, though not at zero."""
    around = samples[max(frame - 5, 0) : frame + 6]
    still = (np.diff(around) == 0.0) & (around[1:] != 0.0)
    runs = np.convolve(still, np.ones(_FLAT - 1), "valid")
    return bool(np.max(runs, initial=0.0) >= _FLAT - 1)


def _ends(samples: Singles) -> Ints:
    """Return the first frame that is not zero, and the one behind the last; empty where all are."""
    sounding = samples != 0.0
    if not np.any(sounding):
        return np.zeros(0, dtype=np.intp)
    return np.array([np.argmax(sounding), samples.shape[0] - np.argmax(sounding[::-1])])


def _apart(seen: _Places, at: list[int]) -> list[int]:
    """Return the clearest of each joint's places: it may have been seen from two pieces."""
    kept: list[int] = []
    for place in at:
        if kept and seen.frame[place] - seen.frame[kept[-1]] <= SPAN:
            if seen.clear[place] > seen.clear[kept[-1]]:
                kept[-1] = place
        else:
            kept.append(place)
    return kept


def _unshaded(seen: _Places, at: list[int], block: int) -> list[int]:
    """Return which stand beside no joint so large that it spoils the prediction around it."""
    return [
        one
        for one in at
        if not any(
            abs(int(seen.frame[other]) - int(seen.frame[one])) <= block
            and seen.clear[other] > _SHADES * seen.clear[one]
            for other in at
        )
    ]


def _told(seen: _Places, at: int, company: int) -> EditJoint:
    sure = _SURE[0] + _SURE[1] * float(seen.left[at]) + _SURE[2] * math.log1p(company)
    return EditJoint(
        frame=int(seen.frame[at]),
        kind="step" if seen.is_step[at] else "slope",
        size_db=db_from_ratio(float(seen.size[at])),
        confidence=1.0 / (1.0 + math.exp(-sure)),
    )
