"""What attacks tell together: place, polarity, drift, slips, or why there is no telling.

A line through all attacks settles the place; all attacks together give the response, and with it the first
arrival. Every threshold stands here with its reason; they were found on toy loudspeakers of another make
than those of the benchmarks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure import gauss
from audio.measure.arrival import arrival_of
from audio.measure.driven import best_gain, driven, standing
from audio.measure.first_arrival import FirstArrival
from audio.measure.followed import votes_of
from audio.measure.pooled import Terms, cut
from audio.measure.spread import spread
from audio.measure.strikes import Strike
from audio.measure.timeline import Timeline, fit
from audio.measure.whitened import Geometry
from audio.vocab.alignment import Alignment, Place, Polarity, Slip

if TYPE_CHECKING:
    from numpy.typing import NDArray

FEWEST = 3
_USABLE = 5.0
"""Likeness over noise from which an attack counts as found."""
_CORRIDOR_S = 0.0015
"""Nearer than this two lines tell of one place: a loudspeaker rings so long."""
_MOST_PLACES = 100
_LEAST_SHARE = 0.34
"""Of the attacks beside which there is sound, so many must be found: another take with the same licks in it
finds fewer, and so does a return that is all reverb."""
_SILENT = 1e-3
_STILL = 0.55
"""Frames at 48 kHz by which attacks may lie off their line, one sigma; a vibrato moves more, a chorus or an
echo beside the dry sound less."""
_MOST_SLIPS = 12
_LEAST_VOTES = 8.0
"""Lead of the best line over any other: noise alone reaches some 4."""
_VOTES_A_NEPER = 4.0

NO_ATTACKS = (
    "the DI has no clear attacks to place a recording by; "
    "use one with picked notes, or place it by clicks"
)
TOO_FEW = (
    "fewer than three attacks of the DI can be found in the recording; "
    "check that it is this DI's, or place it by clicks"
)
NOT_ALIKE = "the recording does not follow this DI; check that the two belong together"
AMBIGUOUS = (
    "the recording fits the DI at several places alike; use a longer stretch, or place it by clicks"
)
TOO_NOISY = "noise hides where the recording begins; turn the amp up, or place it by clicks"
WET = (
    "the recording is all reverb, no part of it comes first; "
    "let some dry sound through, or place it by clicks"
)
_WHY = {"noisy": TOO_NOISY, "wet": WET}
MOVING = (
    "the delay moves from attack to attack, as through a vibrato; bypass it, or place it by clicks"
)


def measured(strikes: tuple[Strike, ...], shape: Geometry) -> Alignment:
    """Return what strikes tell together."""
    if len(strikes) < FEWEST:
        return Alignment(delay_frames=None, reason=NO_ATTACKS)
    gain = best_gain(strikes, shape)
    bent = [driven(one, shape, gain=gain) for one in strikes]
    votes = votes_of(
        [standing(di, one, shape) for di, one in zip(bent, strikes, strict=True)],
        [one.offset // shape.step - shape.reach for one in strikes],
        [one.at_frame / shape.step for one in strikes],
    )
    corridor = round(_CORRIDOR_S * shape.low_rate)
    lines = {sign: votes.best(sign) for sign in (1.0, -1.0)}
    sign = max(lines, key=lambda one: lines[one].sum)
    best = lines[sign]
    usable = np.flatnonzero(best.votes >= _USABLE)
    usable = usable[~_lonely(best.lags[usable], corridor)]
    if usable.size < FEWEST:
        return Alignment(delay_frames=None, reason=TOO_FEW)
    if usable.size < _LEAST_SHARE * _sounding(strikes):
        return Alignment(delay_frames=None, reason=NOT_ALIKE)
    others = [votes.best(one, without=best, corridor=corridor) for one in (1.0, -1.0)]
    lead = best.sum - max(one.sum for one in others)
    if lead < _LEAST_VOTES:
        return Alignment(delay_frames=None, reason=NOT_ALIKE)
    found = _Found(
        strikes=[strikes[i] for i in usable], bent=[bent[i] for i in usable], lags=best.lags[usable]
    )
    return _told(found, shape, gain=gain, confidence=1.0 - math.exp(-lead / _VOTES_A_NEPER))


def _lonely(lags: NDArray[np.int64], corridor: int) -> NDArray[np.bool_]:
    """Return which lags are far off two neighbours that agree: chance, the right one was out of reach."""
    lonely = np.zeros(lags.size, dtype=np.bool_)
    far = np.abs(np.diff(lags)) > corridor
    agree = np.abs(lags[2:] - lags[:-2]) <= 2 * corridor
    lonely[1:-1] = far[:-1] & far[1:] & agree
    return lonely


def _sounding(strikes: tuple[Strike, ...]) -> int:
    """Return beside how many strikes the recording is more than silence."""
    powers = np.array([np.vdot(one.recording, one.recording).real for one in strikes])
    return int(np.count_nonzero(powers > _SILENT * np.median(powers)))


@dataclass(frozen=True, kw_only=True)
class _Found:
    """Attacks that were found, and where."""

    strikes: list[Strike]
    lags: NDArray[np.int64]
    """Low-rate frames."""
    bent: list[NDArray[np.complex64]]
    """Spectra of the DI's stretches, driven."""


def _told(found: _Found, shape: Geometry, *, gain: float, confidence: float) -> Alignment:
    at = np.array([one.at_frame for one in found.strikes], dtype=np.float64)
    line = _line(found, at, shape)
    if line.sigma > _STILL * shape.rate / 48_000.0 or len(line.steps) > _MOST_SLIPS:
        return Alignment(delay_frames=None, reason=MOVING)
    arrival = arrival_of(found.strikes, line.fitted, shape, gain=gain)
    if isinstance(arrival, str):
        return Alignment(delay_frames=None, reason=_WHY[arrival])
    return Alignment(
        delay_frames=line.start + arrival.at,
        plus_minus_frames=arrival.plus_minus,
        polarity=_polarity(arrival),
        confidence=confidence,
        drift_ppm=1e6 * line.slope,
        drift_plus_minus_ppm=gauss.NINETY_FIVE * 1e6 * line.slope_sigma,
        slips=_slips(line, at),
        places=_places(line, at, arrival),
    )


def _line(found: _Found, at: NDArray[np.float64], shape: Geometry) -> Timeline:
    """Return the line of the attacks' delays, frames."""
    pairs = [
        cut(di, one.recording, shape, column=int(lag) - one.offset // shape.step + shape.reach)
        for one, di, lag in zip(found.strikes, found.bent, found.lags, strict=True)
    ]
    terms = Terms(pairs, rate=shape.low_rate)
    late = np.zeros(found.lags.size)
    for _ in range(2):
        line = fit(at, (found.lags + terms.own_lateness(late)) * float(shape.step))
        late = line.fitted / shape.step - found.lags
    return line


def _polarity(arrival: FirstArrival) -> Polarity:
    if not arrival.sign_is_sure:
        return "unsure"
    return "normal" if arrival.sign > 0.0 else "inverted"


def _slips(line: Timeline, at: NDArray[np.float64]) -> tuple[Slip, ...]:
    told = []
    for index, size in line.steps:
        before, after = float(at[index - 1]), float(at[index])
        told.append(
            Slip(
                at_frame=round((before + after) / 2.0),
                within_frames=round((after - before) / 2.0),
                frames=round(size),
            )
        )
    return tuple(one for one in told if one.frames)


def _places(line: Timeline, at: NDArray[np.float64], arrival: FirstArrival) -> tuple[Place, ...]:
    return tuple(
        Place(
            at_frame=int(at[i]),
            delay_frames=float(line.fitted[i] + arrival.at),
            plus_minus_frames=arrival.plus_minus,
        )
        for i in spread(at.size, _MOST_PLACES)
    )
