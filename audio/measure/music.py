"""Where a recording lies against its DI, by the music alone.

For chains that swallow clicks, for originals, for any file. From coarse to fine: blocks of the DI are
looked for in the whole recording at a low rate (`audio.measure.whereabouts`), then each attack is compared
with the recording around that place, behind the curve of an amp that suits best; a line through all attacks
settles place and polarity; all attacks together give the response, and with it the first arrival.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.arrival import Arrival, first_arrival_of
from audio.measure.attacks import RunningAttacks
from audio.measure.driven import best_gain, driven, standing
from audio.measure.followed import votes_of
from audio.measure.pooled import Terms, cut
from audio.measure.strikes import Strike, Strikes
from audio.measure.timeline import Timeline, fit
from audio.measure.whereabouts import DRIVE, decimated, whereabouts
from audio.measure.whitened import Geometry, geometry, likeness, lowered
from audio.vocab.alignment import Alignment, Place, Polarity, Slip

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audio.measure.arrival import Turn
    from audio.measure.pooled import Pooled

_REACH_S = 0.040
_FEWEST = 3
_LEAST_LEAD = 3.5
_ALIKE = 8.0
_USABLE = 5.0
"""Likeness over noise from which an attack counts as found."""
_CORRIDOR_S = 0.0015
"""Nearer than this two lines tell of one place: a loudspeaker rings so long."""
_MOST_PLACES = 100
_HALF_WIDTH = 1.96
_GROUPS = 8
_MEDIAN_OF_GAUSS = 0.6745
_PATH_UNSURE, _TURNED_UNSURE = 1.3, 2.0
"""Frames at 48 kHz by which the first arrival may be off as the path is not what it is taken for, 95 %;
without and with all-pass sections in it."""
_EXPLAINED, _UNEXPLAINED_UNSURE = 0.98, 100.0
"""What usual paths explain of the phase; by how many frames what is missing unsettles it, were it all."""
_TOO_LITTLE, _ENOUGH = 0.9, 0.95
_UNCLEAR = 0.8
"""Explained less than this, even the polarity is a guess."""
_LEAST_SHARE = 0.34
"""Of the attacks beside which there is sound, so many must be found: another take with the same licks in it
finds fewer, and so does a return that is all reverb."""
_SILENT = 1e-3
_STILL = 1.5
"""Frames at 48 kHz by which attacks may lie off their line, one sigma; a vibrato moves more."""
_MOST_SLIPS = 12
_HALVES_APART = 2.0
"""Frames at 48 kHz by which two halves of the attacks may differ about a path with all-pass sections."""
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
MOVING = (
    "the delay moves from attack to attack, as through a vibrato; bypass it, or place it by clicks"
)


def align(di: NDArray[np.floating], recording: NDArray[np.floating], *, rate: int) -> Alignment:
    """Find how far a recording lies from its DI.

    Parameters
    ----------
    di
        (frames,) · linear, any level.
    recording
        (frames,) · linear, any level and polarity; begins up to two minutes early or late.
    rate
        Frames a second, of both.

    Returns
    -------
    Alignment
        With a `reason` instead of a delay where it cannot be told.
    """
    shape = geometry(rate=rate, reach_s=_REACH_S)
    detector = RunningAttacks(rate=rate)
    attacks = detector.feed(di) + detector.finish()
    if len(attacks) < _FEWEST:
        return Alignment(delay_frames=None, reason=NO_ATTACKS)
    peaks = [np.max(np.abs(di[at : at + shape.stretch])) for at, _ in attacks]
    rough = whereabouts(
        decimated(di, rate=rate),
        decimated(recording, rate=rate),
        rate=rate,
        peak=float(np.median(peaks)),
    )
    if rough is None or rough.lead < _LEAST_LEAD:
        alike = rough is not None and rough.fit > _ALIKE
        return Alignment(delay_frames=None, reason=AMBIGUOUS if alike else NOT_ALIKE)
    strikes = Strikes(shape)
    for at, rise in attacks:
        if strikes.wanted(at, rise):
            pieces = _Pieces(di, recording, at - shape.before, shape)
            if (offset := pieces.offset(rough.around(at))) is not None:
                strikes.add(
                    at, rise, di=pieces.played(), recording=pieces.heard(offset), offset=offset
                )
    return _measured(strikes.kept(), shape)


class _Pieces:
    """The stretches of DI and recording around one attack; silence beyond the ends of both."""

    def __init__(
        self,
        di: NDArray[np.floating],
        recording: NDArray[np.floating],
        begin: int,
        shape: Geometry,
    ) -> None:
        self._di, self._recording = di, recording
        self._begin, self._shape = begin, shape

    def offset(self, lags: tuple[int, int]) -> int | None:
        """Return the lag, in whole steps, at which to search; None where the recording does not reach.

        Where the blocks before and after the attack disagree, frames were lost or inserted between them:
        it is the one at which this attack is more like the recording.
        """
        step = self._shape.step
        there = [one for one in dict.fromkeys(lag // step * step for lag in lags) if self._has(one)]
        if len(there) < 2 or abs(there[0] - there[1]) < self._shape.reach * step // 2:
            return there[0] if there else None
        played = self.played()
        bent = np.tanh(played * (DRIVE / max(float(np.max(np.abs(played))), 1e-9)))
        spectrum = lowered(bent * self._shape.ramp, self._shape)
        return max(there, key=lambda one: self._clearness(spectrum, one))

    def played(self) -> NDArray[np.floating]:
        """Return the DI."""
        return _piece(self._di, self._begin, self._shape.stretch)

    def heard(self, offset: int) -> NDArray[np.floating]:
        """Return the recording from `reach` before a lag on."""
        begin = self._begin + offset - self._shape.reach * self._shape.step
        return _piece(self._recording, begin, self._shape.long)

    def _has(self, offset: int) -> bool:
        middle = self._begin + offset + self._shape.stretch // 2
        return 0 <= middle < self._recording.size

    def _clearness(self, played: NDArray[np.complex64], offset: int) -> float:
        recording = lowered(self.heard(offset), self._shape)
        curve = likeness(played, recording, self._shape)
        return float(np.max(np.abs(curve[: 2 * self._shape.reach + 1])))


def _piece(sound: NDArray[np.floating], begin: int, frames: int) -> NDArray[np.floating]:
    """Return some frames, silence beyond the ends."""
    inside = sound[max(begin, 0) : max(begin + frames, 0)]
    before = min(max(-begin, 0), frames)
    return np.pad(inside, (before, frames - before - inside.size))


class RunningMusic:
    """Compares a recording that is roughly in place with its DI while both come in.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._shape = geometry(rate=rate, reach_s=_REACH_S)
        self._attacks = RunningAttacks(rate=rate)
        self._strikes = Strikes(self._shape)
        self._waiting: list[tuple[int, float]] = []
        keep = 2 * self._shape.long + rate
        self._di, self._recording = _Tail(keep), _Tail(keep)

    def feed(self, di: NDArray[np.floating], recording: NDArray[np.floating]) -> None:
        """Take the next stretch of both, (frames,) each: frame *n* of one beside *n* of the other.

        The recording may lie 30 ms early or late.
        """
        step = self._shape.rate // 4
        for begin in range(0, di.size, step):
            piece = di[begin : begin + step]
            self._di.add(piece)
            self._recording.add(recording[begin : begin + step])
            self._waiting += self._attacks.feed(piece)
            self._take_strikes()

    def alignment(self) -> Alignment:
        """Return what was found so far."""
        return _measured(self._strikes.kept(), self._shape)

    def _take_strikes(self) -> None:
        reach = self._shape.reach * self._shape.step
        while self._waiting:
            at, rise = self._waiting[0]
            begin = at - self._shape.before
            if begin - reach + self._shape.long > self._recording.frames:
                return
            del self._waiting[0]
            di = self._di.cut(begin, self._shape.stretch)
            recording = self._recording.cut(begin - reach, self._shape.long)
            if di is None or recording is None or not self._strikes.wanted(at, rise):
                continue
            self._strikes.add(at, rise, di=di, recording=recording, offset=0)


class _Tail:
    """The last frames of sound that comes in pieces; before its beginning there was silence."""

    def __init__(self, keep: int) -> None:
        self._keep = keep
        self._kept = np.zeros(keep, dtype=np.float32)
        self.frames = 0

    def add(self, piece: NDArray[np.floating]) -> None:
        joined = np.concatenate((self._kept, piece.astype(np.float32, copy=False)))
        self._kept = joined[-self._keep :]
        self.frames += piece.size

    def cut(self, begin: int, frames: int) -> NDArray[np.float32] | None:
        """Return some frames, or None where they are gone already or still to come."""
        column = self._keep - self.frames + begin
        if column < 0 or column + frames > self._keep:
            return None
        return self._kept[column : column + frames]


def _measured(strikes: tuple[Strike, ...], shape: Geometry) -> Alignment:
    """Return what strikes tell together."""
    if len(strikes) < _FEWEST:
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
    if usable.size < _FEWEST:
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
    return _told(found, shape, confidence=1.0 - math.exp(-lead / _VOTES_A_NEPER))


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


def _told(found: _Found, shape: Geometry, *, confidence: float) -> Alignment:
    pairs = [
        cut(di, one.recording, shape, column=int(lag) - one.offset // shape.step + shape.reach)
        for one, di, lag in zip(found.strikes, found.bent, found.lags, strict=True)
    ]
    at = np.array([one.at_frame for one in found.strikes], dtype=np.float64)
    terms = Terms(pairs, rate=shape.low_rate)
    line, turned = _settle(terms, at, found.lags, shape)
    per_48k = shape.rate / 48_000.0
    if line.sigma > _STILL * per_48k or len(line.steps) > _MOST_SLIPS:
        return Alignment(delay_frames=None, reason=MOVING)
    arrival = _arrival(terms, turned, shape)
    spread = _spread(terms, turned, arrival)
    delay = line.start + arrival.at * shape.step
    path = (_TURNED_UNSURE if arrival.turns else _PATH_UNSURE) * per_48k
    path += _UNEXPLAINED_UNSURE * max(_EXPLAINED - arrival.height, 0.0) * per_48k
    plus_minus = math.hypot(_HALF_WIDTH * spread * shape.step, path)
    return Alignment(
        delay_frames=delay,
        plus_minus_frames=plus_minus,
        polarity=_polarity(arrival),
        confidence=confidence,
        drift_ppm=1e6 * line.slope,
        drift_plus_minus_ppm=_HALF_WIDTH * 1e6 * line.slope_sigma,
        slips=_slips(line, at),
        places=_places(line, at, arrival.at * shape.step, plus_minus),
    )


def _settle(
    terms: Terms, at: NDArray[np.float64], lags: NDArray[np.int64], shape: Geometry
) -> tuple[Timeline, NDArray[np.complex128]]:
    """Return the line of the attacks' delays in frames, and their cross-spectra put in place by it."""
    everyone = np.ones(lags.size, dtype=np.bool_)
    turned = terms.turned(np.zeros(lags.size))
    for _ in range(2):
        each = terms.own_lateness(terms.pooled(turned, everyone))
        line = fit(at, (lags + each) * float(shape.step))
        turned = terms.turned(line.fitted / shape.step - lags)
    return line, turned


def _arrival(terms: Terms, turned: NDArray[np.complex128], shape: Geometry) -> Arrival:
    """Return the first arrival.

    All-pass sections are taken for the path's where a delay alone explains too little, or where both
    halves of the attacks show the same; else they are noise.
    """
    number = np.arange(len(turned))
    whole = terms.pooled(turned, number >= 0)
    arrival = first_arrival_of(whole)
    plain = first_arrival_of(whole, turns=())
    if not arrival.turns or (plain.height < _TOO_LITTLE and arrival.height > _ENOUGH):
        return arrival
    halves = [terms.pooled(turned, number % 2 == half) for half in (0, 1)]
    owns = [first_arrival_of(half) for half in halves]
    apart = abs(owns[0].at - owns[1].at) * shape.step * 48_000.0 / shape.rate
    if apart <= _HALVES_APART and all(
        _explained(half, other.turns) for half, other in zip(halves, reversed(owns), strict=True)
    ):
        return arrival
    return plain


def _explained(pooled: Pooled, turns: tuple[Turn, ...]) -> bool:
    """Return whether all-pass sections found elsewhere explain much of what a delay alone does not."""
    plain = first_arrival_of(pooled, turns=()).height
    return first_arrival_of(pooled, turns=turns).height - plain >= 0.25 * (1.0 - plain)


def _spread(terms: Terms, turned: NDArray[np.complex128], arrival: Arrival) -> float:
    """Return the standard deviation of the first arrival, by leaving out a group of attacks at a time.

    The jackknife (Efron and Tibshirani, *An Introduction to the Bootstrap*), with the median deviation in
    the place of the mean one: a single group that tips a decision does not speak for all.
    """
    groups = min(_GROUPS, len(turned))
    group_of = np.arange(len(turned)) % groups
    found = [
        first_arrival_of(terms.pooled(turned, group_of != group), turns=arrival.turns).at
        for group in range(groups)
    ]
    usual = float(np.median(np.abs(np.array(found) - arrival.at))) / _MEDIAN_OF_GAUSS
    return math.sqrt(groups - 1) * usual


def _polarity(arrival: Arrival) -> Polarity:
    if arrival.height < _UNCLEAR:
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


def _places(
    line: Timeline, at: NDArray[np.float64], arrival: float, plus_minus: float
) -> tuple[Place, ...]:
    picked = np.unique(np.linspace(0, at.size - 1, min(_MOST_PLACES, at.size)).round())
    return tuple(
        Place(
            at_frame=int(at[int(i)]),
            delay_frames=float(line.fitted[int(i)] + arrival),
            plus_minus_frames=plus_minus,
        )
        for i in picked
    )
