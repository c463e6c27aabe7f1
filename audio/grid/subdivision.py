"""Which subdivision a part is played on, swung or not, found from its hits.

Every subdivision is fitted to all hits and weighed by its likelihood, by how usual it is, and by what its
freedom costs (Laplace's approximation of the marginal likelihood; from memory): a finer grid lies nearer
to any hit, but spreads its expectation over more places. Hits at random are one more candidate. Bars that
are played on another subdivision, such as a triplet fill, are told apart where that is clearly better;
single hits off the grid are not worth a subdivision.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from audio.grid.fills import PhasedHits, in_beats, other_bars, with_fills
from audio.grid.patterns import (
    LAG_MS,
    SPREAD_MS,
    SPREAD_RATIO,
    SWING_HIGH,
    SWING_LOW,
    Fit,
    Pattern,
    fitted,
    turned,
)
from audio.grid.ruler import Ruler
from audio.vocab.checked import PARTS
from audio.vocab.errors import UseError
from audio.vocab.timing import NoTiming, OtherBar, Subdivision

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audio.grid.bars import BarGrid
    from audio.vocab.readiness import Hit

FEWEST = 4
"""Hits; any grid fits fewer."""

_USUAL = {1: 0.2, 2: 0.3, 3: 0.12, 4: 0.25, 6: 0.04, 8: 0.04}
_USUAL_SWUNG = {2: 0.1, 4: 0.05}
_RANDOM = 0.1
"""How often parts are played on each subdivision, swung, or on none (a guess; its rough size counts)."""

_SWINGS = (0.55, 0.61, 0.68)
"""Where the search for the swing begins."""

_TRIED = 5
"""So many of the best candidates are weighed with fills."""

_ROOT = math.sqrt(2.0 * math.pi)


def find_subdivision(
    hits: Sequence[Hit],
    bars: BarGrid,
    *,
    rate: int,
    subdivision: int | None = None,
    swing: float | None = None,
) -> Subdivision | NoTiming:
    """Return what a part is played on.

    Parameters
    ----------
    hits
        In order of their frames.
    bars
        The grid on the DI's frames.
    rate
        Frames a second.
    subdivision
        Parts of a beat, where it is known: 1, 2, 3, 4, 6 or 8; lag, spread and swing are fitted.
    swing
        The first part's share of a pair, where it is known: 0.5 (even) to 0.75; no triplets then.

    Returns
    -------
    Subdivision | NoTiming
        The latter for fewer than `FEWEST` hits, and where hits at random are the better explanation; never
        where a subdivision is given and there is a hit.

    Raises
    ------
    UseError
        If there is no such subdivision, or it has no pairs to be swung.
    """
    frames = [hit.frame for hit in hits]
    return find_on(Ruler(bars, frames), frames, rate=rate, subdivision=subdivision, swing=swing)


def find_on(
    ruler: Ruler,
    frames: Sequence[float],
    *,
    rate: int,
    subdivision: int | None = None,
    swing: float | None = None,
) -> Subdivision | NoTiming:
    """Return what a part is played on, as `find_subdivision` does, by a ruler laid over its hits' frames.

    Parameters
    ----------
    ruler
        Over these frames.
    frames
        Where the hits begin, in order.
    rate
        Frames a second.
    subdivision
        As there.
    swing
        As there.

    Returns
    -------
    Subdivision | NoTiming
        As there.

    Raises
    ------
    UseError
        If there is no such subdivision, or it has no pairs to be swung.
    """
    _check(subdivision, swing)
    fewest = FEWEST if subdivision is None else 1
    if len(frames) < fewest:
        return NoTiming(reason="too few hits", hits=len(frames))
    found = in_beats(ruler, frames, rate=rate)
    fits = _weighed(found, _starts(found, subdivision, swing), free_swing=swing is None)
    best = max(fits, key=lambda one: one.likelihood)
    if subdivision is not None:
        return _told(best, found, confidence=1.0)
    if best.likelihood <= math.log(_RANDOM):
        return NoTiming(reason="no subdivision fits", hits=len(frames))
    return _told(best, found, confidence=_share(best, fits), others=other_bars(best, found))


def _check(subdivision: int | None, swing: float | None) -> None:
    if subdivision is not None and subdivision not in PARTS:
        raise UseError(f"no subdivision has {subdivision} parts a beat: 1, 2, 3, 4, 6 or 8.")
    if swing is None:
        return
    if not 0.5 <= swing <= 0.75:
        raise UseError(f"swing {swing:g} is not between 0.5 (even) and 0.75.")
    if subdivision in (1, 3, 6):
        raise UseError(f"{subdivision} parts a beat are no pairs that could be swung.")


# ---------------------------------------------------------------- candidates


def _starts(found: PhasedHits, subdivision: int | None, swing: float | None) -> list[Fit]:
    """Return where the fits begin: every candidate, each at the lag its hits point to."""
    phases = found.phases
    spread = 1.5 * SPREAD_MS / found.beat_ms
    starts = []
    for pattern in _patterns(subdivision, swing):
        lag = turned(phases, pattern.parts)
        if pattern.swing != 0.5:  # half the hits lie late by the swing
            lag -= (pattern.swing - 0.5) / pattern.parts
        width = min(spread, 1.0 / (4.0 * pattern.parts))
        starts.append(Fit(pattern, lag, width))
    return starts


def _patterns(subdivision: int | None, swing: float | None) -> list[Pattern]:
    wanted = PARTS if subdivision is None else (subdivision,)
    if swing is not None:
        return [Pattern(parts, swing) for parts in wanted if parts in (2, 4, 8)]
    even = [Pattern(parts) for parts in wanted]
    return even + [
        Pattern(parts, to) for parts in wanted if parts in _USUAL_SWUNG for to in _SWINGS
    ]


def _weighed(found: PhasedHits, starts: Sequence[Fit], *, free_swing: bool) -> list[Fit]:
    """Return the fits with the natural logarithm of how probable each is, over hits at random."""
    phases = found.phases
    fits: dict[tuple[int, bool], Fit] = {}
    for start in starts:
        free = free_swing and start.pattern.swing != 0.5
        fit = fitted(start, phases, beat_ms=found.beat_ms, free_swing=free)
        prior = _log_prior(fit, hits=found.count, beat_ms=found.beat_ms, free_swing=free)
        kind = (start.pattern.parts, free)
        if kind not in fits or fit.likelihood + prior > fits[kind].likelihood:
            fits[kind] = replace(fit, likelihood=fit.likelihood + prior)
    ranked = sorted(fits.values(), key=lambda one: -one.likelihood)
    return [with_fills(fit, found) for fit in ranked[:_TRIED]] + ranked[_TRIED:]


def _log_prior(fit: Fit, *, hits: int, beat_ms: float, free_swing: bool) -> float:
    """Return how usual a fit is, less what its free figures cost."""
    lag, spread = fit.lag * beat_ms, fit.spread * beat_ms
    usual = (_USUAL_SWUNG if free_swing else _USUAL)[fit.pattern.parts]
    found = math.log(usual) - 0.5 * (lag / LAG_MS) ** 2
    found -= 0.5 * (math.log(spread / SPREAD_MS) / SPREAD_RATIO) ** 2
    found += math.log(spread / math.sqrt(hits) / LAG_MS)
    found -= math.log(math.sqrt(2.0 * hits) * SPREAD_RATIO)
    if fit.pattern.parts > 1:
        found += 0.5 * math.log(2.0 * math.pi * fit.fresh * (1.0 - fit.fresh) / hits)
    if free_swing:
        found += math.log(_ROOT * fit.spread * fit.pattern.parts / math.sqrt(hits))
        found -= math.log(SWING_HIGH - SWING_LOW)
    return found


def _share(best: Fit, fits: Iterable[Fit]) -> float:
    """Return the share of a fit among all, and hits at random."""
    gaps = [*(fit.likelihood for fit in fits), math.log(_RANDOM)]
    return 1.0 / sum(math.exp(min(gap - best.likelihood, 0.0)) for gap in gaps)


def _told(
    fit: Fit, found: PhasedHits, *, confidence: float, others: Iterable[OtherBar] = ()
) -> Subdivision:
    swing = fit.pattern.swing
    return Subdivision(
        parts=fit.pattern.parts,
        swing=None if swing == 0.5 else swing,
        confidence=confidence,
        lag_ms=fit.lag * found.beat_ms,
        spread_ms=fit.spread * found.beat_ms,
        other_bars=tuple(others),
    )
