"""Hits in beats, bar by bar, and the bars that are played on another subdivision than the part."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

from audio.grid.patterns import Fit, Pattern, Phases, densities
from audio.grid.ruler import Ruler
from audio.vocab.checked import PARTS
from audio.vocab.timing import OtherBar

_OTHER = 0.02
"""Share of bars that are played on one other subdivision."""

_BINS = 240
"""Parts of a beat by which many hits are counted; a multiple of every subdivision."""

_FILL_HITS = 1000
"""About so many hits tell whether fills speak for a candidate."""

_GOLDEN = 0.6180339887498949
"""Bars picked by its multiples keep step with no number of bars in which fills may come."""

_PICKUP = 1.0 / 16.0
"""A hit so far (in beats) before a bar line, or less, counts to the bar behind it."""


@dataclass(frozen=True, slots=True)
class PhasedHits:
    """A part's hits in beats."""

    count: int
    phases: Phases
    """Each hit's, or a histogram where there are many."""
    bars: tuple[int, ...]
    """Those in which there are hits."""
    slots: tuple[list[int], ...]
    """The hits of each of them, as slots of their phases among `_BINS`."""
    beat_ms: float
    """The median of the beats that are played in."""


def in_beats(ruler: Ruler, frames: Sequence[float], *, rate: int) -> PhasedHits:
    """Return hits by their phases, given where they begin, in order, and a ruler over these frames."""
    positions = [ruler.position(frame) for frame in frames]
    beats = [math.floor(position + _PICKUP) for position in positions]
    phases = [position % 1.0 for position in positions]
    slots = [int(phase * _BINS) % _BINS for phase in phases]
    bar_of = {beat: ruler.bars.named(beat)[0] for beat in set(beats)}
    by_bar: defaultdict[int, list[int]] = defaultdict(list)
    for beat, slot in zip(beats, slots, strict=True):
        by_bar[bar_of[beat]].append(slot)
    return PhasedHits(
        count=len(frames),
        phases=_thinned(phases, slots),
        bars=tuple(by_bar),
        slots=tuple(by_bar.values()),
        beat_ms=1000.0 / rate * median(ruler.beat_frames(beat) for beat in beats),
    )


def _thinned(phases: Sequence[float], slots: Sequence[int]) -> Phases:
    if len(phases) <= _BINS:
        return [(phase, 1.0) for phase in phases]
    return [((slot + 0.5) / _BINS, float(count)) for slot, count in sorted(Counter(slots).items())]


def with_fills(fit: Fit, found: PhasedHits) -> Fit:
    """Return a fit with the gain of every bar that is better told on another subdivision."""
    some = _some_bars(found)
    gained = sum(gained for gained, _ in _fills(fit, some))
    gain = gained * len(found.bars) / len(some.bars)
    return replace(fit, likelihood=fit.likelihood + gain + len(found.bars) * math.log(1.0 - _OTHER))


def _some_bars(found: PhasedHits) -> PhasedHits:
    if found.count <= _FILL_HITS:
        return found
    share = _FILL_HITS / found.count
    some = [at for at in range(len(found.bars)) if at * _GOLDEN % 1.0 < share]
    return replace(
        found,
        bars=tuple(found.bars[at] for at in some),
        slots=tuple(found.slots[at] for at in some),
    )


def other_bars(fit: Fit, found: PhasedHits) -> list[OtherBar]:
    """Return the bars that another subdivision explains better, in order."""
    fills = zip(found.bars, _fills(fit, found), strict=True)
    return [OtherBar(bar=bar, parts=parts) for bar, (_, parts) in sorted(fills) if parts]


def _fills(fit: Fit, found: PhasedHits) -> list[tuple[float, int]]:
    """Return for every bar what another subdivision that explains it better gains, and its parts; 0, 0."""
    own = _by_bar(fit, found)
    best = [(0.0, 0)] * len(own)
    rare = math.log(_OTHER)
    for other in _alternatives(fit):
        for at, likelihood in enumerate(_by_bar(other, found)):
            gained = likelihood - own[at] + rare
            if gained > best[at][0]:
                best[at] = gained, other.pattern.parts
    return best


def _alternatives(fit: Fit) -> list[Fit]:
    """Return the other subdivisions with places that this one lacks, hit as late and as widely."""
    parts, swung = fit.pattern.parts, fit.pattern.swing != 0.5
    return [
        Fit(Pattern(other), fit.lag, min(fit.spread, 1.0 / (4.0 * other)), fresh=0.4)
        for other in PARTS[1:]
        if other != parts and (swung or parts % other)
    ]


def _by_bar(fit: Fit, found: PhasedHits) -> list[float]:
    """Return the natural logarithm of each bar's likelihood over that of hits at random."""
    table = [
        math.log(density)
        for density, _ in densities(fit, [((slot + 0.5) / _BINS, 1.0) for slot in range(_BINS)])
    ]
    at = table.__getitem__
    return [sum(map(at, slots)) for slots in found.slots]
