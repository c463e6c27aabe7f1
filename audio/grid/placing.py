"""The place that a hit belongs to: swung where the part is, on its own subdivision in a fill."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from msgspec.structs import replace

from audio.grid.patterns import Pattern
from audio.grid.places import place_name, step_name
from audio.grid.ruler import Ruler
from audio.vocab.timing import PlacedHit, Subdivision

STRAY_SPREADS = 4.0
STRAY_GAP, STRAY_MS = 0.35, 80.0
"""A hit is stray when it lies farther from its place, less the lag, than so many spreads, and than so much
of the distance of two places or so many ms, whichever is less: a ghost note or a pickup, not a note that is
late (common practice, no source)."""

_COMMON = 24
"""Parts of a beat that hold every subdivision's."""


class Place(NamedTuple):
    """One place on the grid."""

    frame: float
    bar: int
    beat: float
    """Within the bar, from 1, as it is counted, not swung."""
    name: str
    gap: float
    """Frames from place to place."""
    key: tuple[int, int]
    """The same for the same place."""


class Placer:
    """Finds the place of every frame that a ruler lies over; a part lags by less than a beat."""

    def __init__(self, ruler: Ruler, found: Subdivision, *, rate: int) -> None:
        self._lag = found.lag_ms * rate / 1000.0
        self._ruler = ruler
        self._named: dict[int, tuple[int, int, str]] = {}
        own = Pattern(found.parts, found.swing or 0.5)
        self._own = own, own.steps()
        self._others = {
            other.bar: (Pattern(other.parts), Pattern(other.parts).steps())
            for other in found.other_bars
        }

    def place(self, frame: float) -> Place:
        """Return the place that is nearest to a frame less what the part lags."""
        position = self._ruler.position(frame - self._lag)
        beat = math.floor(position)
        bar, count, name = self._name(beat)
        pattern, steps = self._others.get(bar, self._own)
        step, _ = pattern.nearest(position - beat)
        parts = pattern.parts
        if step == parts:
            beat, step = beat + 1, 0
            bar, count, name = self._name(beat)
        frame, gap = self._ruler.frame(beat, steps[step]), self._ruler.beat_frames(beat) / parts
        key = beat, step * _COMMON // parts
        return Place(frame, bar, count + step / parts, name + step_name(step, parts), gap, key)

    def _name(self, beat: int) -> tuple[int, int, str]:
        if beat not in self._named:
            bar, count = self._ruler.bars.named(beat)
            self._named[beat] = bar, count, place_name(bar=bar, beat=count)
        return self._named[beat]


def placed(
    frames: Sequence[float], ruler: Ruler, found: Subdivision, *, rate: int
) -> list[PlacedHit]:
    """Return every hit at its place, strays marked.

    Parameters
    ----------
    frames
        Where the hits begin, in order, at least one.
    ruler
        Over these frames.
    found
        What the part is played on.
    rate
        Frames a second.

    Returns
    -------
    list of PlacedHit
        As many, in order.
    """
    placer = Placer(ruler, found, rate=rate)
    places = [placer.place(frame) for frame in frames]
    pairs = zip(frames, places, strict=True)
    hits = [_hit(frame, place, found, rate=rate) for frame, place in pairs]
    return _one_a_place(hits, places, lag_ms=found.lag_ms)


def _hit(frame: float, place: Place, found: Subdivision, *, rate: int) -> PlacedHit:
    late = (frame - place.frame) * 1000.0 / rate
    near = min(STRAY_GAP * place.gap * 1000.0 / rate, STRAY_MS)
    off = abs(late - found.lag_ms) > max(STRAY_SPREADS * found.spread_ms, near)
    return PlacedHit(
        at_s=frame / rate,
        grid_s=place.frame / rate,
        deviation_ms=late,
        bar=place.bar,
        beat=place.beat,
        place=place.name,
        stray="between" if off else None,
    )


def _one_a_place(
    hits: list[PlacedHit], places: Sequence[Place], *, lag_ms: float
) -> list[PlacedHit]:
    """Return the hits; of those at one place only the nearest still counts."""
    best: dict[tuple[int, int], int] = {}
    for at, (hit, place) in enumerate(zip(hits, places, strict=True)):
        if hit.stray is not None:
            continue
        rival = best.setdefault(place.key, at)
        if rival == at:
            continue
        if abs(hit.deviation_ms - lag_ms) < abs(hits[rival].deviation_ms - lag_ms):
            best[place.key] = at
        else:
            rival = at
        hits[rival] = replace(hits[rival], stray="second")
    return hits
