"""First arrival through a path that smears: where its response begins, not where it is strongest.

What came back is the product of what was sent, a response of least delay, perhaps some allpasses, and a
pure delay. The first is symmetric about its middle even after a saturating amp, so it has no phase; the
second follows from the magnitude; the rest is fitted (`audio.measure.excess_phase`). How hard the amp
was driven is not known: of all pulses that may have left it, the one counts under whose magnitude the
phases lie on a line best, and those that fare almost as well share in the mean.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from audio.measure import gauss
from audio.measure.descent import Begun, Fit, Residue, polished
from audio.measure.excess_phase import best_fits
from audio.measure.fades import DIRECT, DIRECT_SHORT
from audio.measure.minimum_phase import LeastPhase, Seen, Sent, least_phase, smooth

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from numpy.typing import NDArray

    from audio.measure.fades import Window

_Number = TypeVar("_Number", np.float64, np.complex128)

_ENOUGH_BANDS = 24
"""Narrow bands, from 150 Hz to some 2 kHz: fewer do not tell a place from one a period aside."""
_POWER_OCTAVES = 1.0 / 24.0
_NOISE_OCTAVES = 1.0 / 6.0
_NARROWEST_HZ = 60.0
_NARROWEST_SHARE = 0.03
_MODEL_RADIANS = 0.06
"""How far a loudspeaker's phase keeps to the least phase, standard deviation; found on invented ones."""
_EDGE_RADIANS = 0.12
_EDGE_OCTAVES = 0.5
"""Towards the end of the band the continued magnitude makes the phase doubtful, rising to this."""

_TURNED = 8.0
"""Misfit from which an allpass is tried; without noise loudspeakers of minimum phase stay under 15 and
invented ones that turn phase begin at 80, which noise brings nearer to 1."""
_TURNED_TWICE = 3.0
_ONE_BETTER, _TWO_BETTER = 0.4, 0.65
"""Share of the misfit that one section, and a second one, must bring it down to."""
_MOST_SECTIONS = 2
_PULSES_ONCE, _PULSES_TWICE = 8, 4
"""With how many of the best pulses one section, and two, are tried."""
_SHARES_FROM = 0.03
_RIVAL = 0.8
"""Share of the misfit under which the other sign with one allpass more leaves the found one in doubt;
nothing is in doubt whose misfit itself is less."""

_WORSE, _TURNED_WORSE = 2.0, 4.0
"""Misfit of the other sign over that of the found one, from which a sign is sure; with allpasses."""
_UNSEEN_TURNED_S = 2.1e-5
"""Where allpasses turn and more delay than this hangs on what is not seen, the other sign must be worse by
as many times more."""
_SPOILT = 25.0
"""Misfit of the whole direct sound from which a shorter piece of it is looked at."""
_EXPLAINED = 40.0
"""Misfit past which the phases say nothing of the sign."""

_UNSEEN = 1.5
"""Half width that the continued magnitude leaves, over the delay it brought: a loudspeaker may fall twice
as steeply, or hardly. Found on invented loudspeakers, as the next two."""
_LEAST_S = 5e-6
"""Half width that the model itself leaves, seconds: a quarter of a frame at 48 kHz."""
_UNSEEN_A_SECTION = 1.0
"""Like `_UNSEEN`, for each allpass: it bends what the end of the band should have told."""


@dataclass(frozen=True, kw_only=True)
class FirstArrival:
    """Where a path's response begins."""

    at: float
    """Frames after column 0."""
    plus_minus: float
    """Half width of the 95 % interval of what the path's smear leaves open, frames; noise included."""
    sign: float
    """−1.0 or 1.0: whether the path turns over what it was sent."""
    sign_is_sure: bool
    """Whether the other sign explains the phases so much worse that it is out of the question."""
    misfit: float
    """How badly a delay explains the phases: about 1 where it does as well as it can."""


@dataclass(frozen=True, kw_only=True)
class _Tried:
    """One pulse that may have been sent, and how well the phases fit it."""

    pulse: int
    fit: Fit
    other: Fit | None
    """The best fit of the other sign."""
    unseen: float
    rate: int


def first_arrival(
    spectrum: NDArray[np.complex128],
    noise: NDArray[np.float64],
    sent: Sequence[Sent],
    *,
    rate: int,
    sure: Sequence[tuple[float, ...]],
) -> FirstArrival | None:
    """Find where a response begins.

    Parameters
    ----------
    spectrum
        (bins,) · of what came back, an even transform's half · turned so that a path without smear that
        arrives at column 0 has no phase.
    noise
        (bins,) · mean power of the noise in it.
    sent
        What may have been sent; one where it is known.
    rate
        Frames a second.
    sure
        Power over noise from which a bin counts as measured: the fit is made for each of the first and the
        mean is taken, so that noise at the end of the band does not move it by much; the search is made
        with the first of them. In so much noise that too few bands count, the next stand.

    Returns
    -------
    FirstArrival | None
        None where too little stands out of the noise.
    """
    for limits in sure:
        heard = _Spectrum.of(spectrum, noise, sent, rate=rate, sure=limits)
        tried = _try(heard, range(len(sent)), sections=0)
        if any(t.fit.bands >= _ENOUGH_BANDS for t in tried):
            break
    else:
        return None
    tried = _with_sections(heard, tried)
    return _mean(heard, tried, rivals=_rivals(heard, tried))


def _misfit(tried: _Tried) -> float:
    return tried.fit.misfit


def of_direct_sound(
    begins: Callable[[Window], FirstArrival | None],
) -> FirstArrival | None:
    """Return where a response begins; of a shorter piece where a bounce spoils the whole.

    Parameters
    ----------
    begins
        Finds where the response begins, seen through a window.

    Returns
    -------
    FirstArrival | None
        None where too little stands out of the noise.
    """
    arrival = begins(DIRECT)
    if arrival is None or arrival.misfit < _SPOILT:
        return arrival
    short = begins(DIRECT_SHORT)
    return short if short is not None and 2.0 * short.misfit < arrival.misfit else arrival


# ------------------------------------------------------------------ the phases


@dataclass(frozen=True, kw_only=True)
class _Explained:
    """What the least phase behind one pulse leaves of the phases."""

    residue: Residue
    unseen: float
    """Frames of delay that hang on what is not seen."""


@dataclass(frozen=True, kw_only=True)
class _Spectrum:
    """What came back, with its smoothed power and noise, beside what may have been sent."""

    turned: NDArray[np.complex128]
    seen: Seen
    sent: Sequence[Sent]
    sure: tuple[float, ...]
    """Power over noise from which a bin counts."""
    known: dict[tuple[int, float], _Explained | None] = field(default_factory=dict)
    """What was explained before, by pulse and limit: it is asked for again with other sections."""

    @classmethod
    def of(
        cls,
        spectrum: NDArray[np.complex128],
        noise: NDArray[np.float64],
        sent: Sequence[Sent],
        *,
        rate: int,
        sure: tuple[float, ...],
    ) -> _Spectrum:
        hz = np.fft.rfftfreq(2 * (spectrum.size - 1), 1.0 / rate)
        power = smooth(np.abs(spectrum) ** 2, octaves=_POWER_OCTAVES)
        floor = smooth(noise, octaves=_NOISE_OCTAVES) + np.finfo(float).tiny
        seen = Seen(power=power, noise=floor, hz=hz, rate=rate)
        return cls(turned=spectrum, seen=seen, sent=sent, sure=sure)

    def explained(self, pulse: int, *, sure: float) -> _Explained | None:
        """Return what the least phase behind a pulse leaves; None where too little is clear of noise."""
        if (pulse, sure) not in self.known:
            least = least_phase(self.seen, self.sent[pulse], sure=sure)
            self.known[pulse, sure] = (
                _Explained(residue=self._residue(least), unseen=least.unseen_frames)
                if least
                else None
            )
        return self.known[pulse, sure]

    def _residue(self, least: LeastPhase) -> Residue:
        """Return the phases that the least phase does not explain, in bands."""
        seen = self.seen
        white = 1.0 / np.sqrt(np.abs(least.spectrum) ** 2 + seen.noise)
        cross = self.turned * np.conj(least.spectrum) * white
        blur = (np.abs(least.spectrum) * white) ** 2 * seen.noise
        edges = _edges(seen.hz.size, least.low, least.high, rate=seen.rate)
        total, strength = _sums(cross, edges), _sums(np.abs(cross), edges)
        bin_of = _sums(np.arange(cross.size, dtype=float) * np.abs(cross), edges) / strength
        octaves_left = np.log2(seen.hz[least.high] / (bin_of * seen.hz[1]))
        doubt = _EDGE_RADIANS * np.maximum(0.0, 1.0 - octaves_left / _EDGE_OCTAVES)
        by_noise = _sums(blur, edges) / (2.0 * np.abs(total) ** 2)
        return Residue(
            turned=total / np.abs(total),
            weight=1.0 / (_MODEL_RADIANS**2 + doubt**2 + by_noise),
            omega=2.0 * np.pi * bin_of * seen.hz[1] / seen.rate,
            rate=seen.rate,
        )


@lru_cache(maxsize=64)
def _edges(bins: int, low: int, high: int, *, rate: int) -> NDArray[np.int64]:
    """Return the first bins of bands from `low` to `high`, and the one after the last; for reading only."""
    hz = np.fft.rfftfreq(2 * (bins - 1), 1.0 / rate)
    at = [float(hz[low])]
    while at[-1] < hz[high]:
        at.append(at[-1] + max(_NARROWEST_HZ, _NARROWEST_SHARE * at[-1]))
    return np.unique(np.clip(np.searchsorted(hz, at), low, high + 1))


def _sums(values: NDArray[_Number], edges: NDArray[np.int64]) -> NDArray[_Number]:
    return np.asarray(np.add.reduceat(values[: edges[-1]], edges[:-1]))


# ------------------------------------------------------------------ which pulse, which sections


def _try(heard: _Spectrum, pulses: Iterable[int], *, sections: int) -> list[_Tried]:
    """Return how well the phases fit some pulses with so many allpasses, the best first."""
    there = [(i, known) for i in pulses if (known := heard.explained(i, sure=heard.sure[0]))]
    found = zip(
        there, best_fits([known.residue for _, known in there], sections=sections), strict=True
    )
    tried = [
        _Tried(
            pulse=pulse,
            fit=fits[0],
            other=fits[1] if len(fits) > 1 else None,
            unseen=known.unseen,
            rate=heard.seen.rate,
        )
        for (pulse, known), fits in found
        if fits
    ]
    return sorted(tried, key=_misfit)


def _with_sections(heard: _Spectrum, tried: list[_Tried]) -> list[_Tried]:
    """Return what was tried, with as many allpasses as the phases ask for, the best first."""
    if _misfit(tried[0]) < _TURNED:
        return tried
    best = tried
    for sections, count, better in (
        (1, _PULSES_ONCE, _ONE_BETTER),
        (2, _PULSES_TWICE, _TWO_BETTER),
    ):
        if _misfit(best[0]) < _TURNED_TWICE:
            break
        again = _try(heard, [t.pulse for t in best[:count]], sections=sections)
        if again and _misfit(again[0]) < better * _misfit(best[0]):
            best = again
    return best


def _rivals(heard: _Spectrum, tried: list[_Tried]) -> list[Fit]:
    """Return fits of the other sign that explain the phases better, with one allpass more than the best.

    They are not clear enough to be believed in the best one's place, and too good to be passed over: an
    allpass in the upper half of what the noise leaves of a band looks like the other sign.
    """
    best = tried[0].fit
    sections = len(best.sections) // 2 + 1
    if sections > _MOST_SECTIONS or best.misfit < _RIVAL:
        return []
    again = _try(heard, [t.pulse for t in tried[:_PULSES_TWICE]], sections=sections)
    fits = [fit for t in again for fit in (t.fit, t.other) if fit and fit.sign != best.sign]
    return [fit for fit in fits if fit.misfit < _RIVAL * best.misfit]


# ------------------------------------------------------------------ the mean and its width


def _mean(heard: _Spectrum, tried: list[_Tried], *, rivals: list[Fit]) -> FirstArrival:
    """Return the mean over the pulses that fare almost as well as the best, and its width.

    Fits of the other sign that fare almost as well widen it and leave the mean alone: between the two there
    is nothing.
    """
    best = tried[0]
    scale = max(1.0, _misfit(best))

    def share_of(fit: Fit) -> float:
        worse = max(0.0, fit.misfit - _misfit(best))
        share = float(np.exp(-0.5 * worse * best.fit.bands / scale))
        return share if share > _SHARES_FROM else 0.0

    same = [(t, share) for t in tried if t.fit.sign == best.fit.sign and (share := share_of(t.fit))]
    found = _over_bands(heard, [one for one, _ in same])
    shares = [share for _, share in same]
    at = float(np.average(found, weights=shares))
    others = [fit for t in tried for fit in (t.fit, t.other) if fit and fit.sign != best.fit.sign]
    others += rivals
    found += [fit.at for fit in others]
    shares += [share_of(fit) for fit in others]
    spread = float(np.sqrt(np.average((np.asarray(found) - at) ** 2, weights=shares)))
    return FirstArrival(
        at=at,
        plus_minus=_half_width(best, spread, rate=heard.seen.rate),
        sign=best.fit.sign,
        sign_is_sure=_sign_is_sure(best, min((f.misfit for f in others), default=float("inf"))),
        misfit=_misfit(best),
    )


def _sign_is_sure(best: _Tried, other: float) -> bool:
    """Return whether a sign is out of question; an allpass turns over what lies above it, seen or not."""
    times = _WORSE
    if best.fit.sections:
        times = _TURNED_WORSE * max(1.0, best.unseen / (_UNSEEN_TURNED_S * best.rate))
    if best.fit.strained:
        return False
    return other > times * max(_misfit(best), 1.0) and _misfit(best) < _EXPLAINED


def _over_bands(heard: _Spectrum, tried: list[_Tried]) -> list[float]:
    """Return, for each, the mean of the fits with the band ended a little earlier and a little later."""
    places = [[one.fit.at] for one in tried]
    at, begun = [], []
    for row, one in enumerate(tried):
        for sure in heard.sure[1:]:
            if known := heard.explained(one.pulse, sure=sure):
                at.append(row)
                begun.append(
                    Begun(
                        residue=known.residue,
                        at=one.fit.at,
                        sign=one.fit.sign,
                        sections=one.fit.sections,
                    )
                )
    for row, fit in zip(at, polished(begun), strict=True):
        if fit is not None:
            places[row].append(fit.at)
    return [float(np.mean(some)) for some in places]


def _half_width(best: _Tried, spread: float, *, rate: int) -> float:
    """Return the half width of the 95 % interval of a first arrival, frames."""
    fitted = best.fit.variance * max(1.0, _misfit(best)) + spread**2
    sections = len(best.fit.sections) // 2
    unseen = best.unseen * np.hypot(_UNSEEN, _UNSEEN_A_SECTION * sections)
    return float(np.hypot(gauss.NINETY_FIVE * np.sqrt(fitted), np.hypot(unseen, _LEAST_S * rate)))
