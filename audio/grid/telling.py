"""Paired hits told as values: how far apart, what was left over, and where in the song."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from audio.grid.figures import farthest, mean, spread
from audio.grid.placing import Placer
from audio.grid.ruler import Ruler
from audio.grid.subdivision import find_on
from audio.vocab.timing import LoneHit, NoTiming, PairedHit, Pairs, Subdivision

if TYPE_CHECKING:
    from audio.grid.bars import BarGrid
    from audio.vocab.readiness import Hit

_Where = Callable[[float], tuple[int | None, float | None, str]]


def told(
    others: Sequence[Hit],
    judged: Sequence[Hit],
    pairs: Sequence[tuple[int, int]],
    *,
    rate: int,
    bars: BarGrid | None,
) -> Pairs:
    """Return pairs of hits as values.

    Parameters
    ----------
    others
        What is judged by, in order, on the frames of `bars`.
    judged
        What is judged, likewise.
    pairs
        Index into the others and into the judged, rising.
    rate
        Frames a second.
    bars
        The grid, for places in words; None where the tempo is not known.

    Returns
    -------
    Pairs
        Those left over included.
    """
    where = _where(others, judged, bars, rate=rate)
    apart = [(judged[two].frame - others[one].frame) * 1000.0 / rate for one, two in pairs]
    middle = mean(apart)
    found = tuple(
        _pair(others[one], judged[two], late, late - (middle or 0.0), where, rate=rate)
        for (one, two), late in zip(pairs, apart, strict=True)
    )
    return Pairs(
        pairs=found,
        mean_ms=middle,
        spread_ms=spread(apart),
        worst=farthest(found, by=lambda pair: pair.deviation_ms),
        missing=_lone(others, {one for one, _ in pairs}, where, rate=rate),
        extra=_lone(judged, {two for _, two in pairs}, where, rate=rate),
    )


def _pair(
    other: Hit, judged: Hit, apart_ms: float, deviation_ms: float, where: _Where, *, rate: int
) -> PairedHit:
    bar, beat, place = where(other.frame)
    return PairedHit(
        at_s=judged.frame / rate,
        other_s=other.frame / rate,
        apart_ms=apart_ms,
        deviation_ms=deviation_ms,
        strum_ms=judged.width_ms - other.width_ms,
        bar=bar,
        beat=beat,
        place=place,
    )


def _lone(
    hits: Sequence[Hit], paired: set[int], where: _Where, *, rate: int
) -> tuple[LoneHit, ...]:
    found = []
    for at, hit in enumerate(hits):
        if at not in paired:
            bar, beat, place = where(hit.frame)
            at_s, level = hit.frame / rate, hit.level_dbfs
            found.append(LoneHit(at_s=at_s, level_dbfs=level, bar=bar, beat=beat, place=place))
    return tuple(found)


def _where(
    others: Sequence[Hit], judged: Sequence[Hit], bars: BarGrid | None, *, rate: int
) -> _Where:
    """Return what tells the place of a frame: on what the others are played on, else the nearest beat."""
    frames = [hit.frame for hits in (others, judged) for hit in (*hits[:1], *hits[-1:])]
    if bars is None or not frames:
        return _nowhere
    ruler = Ruler(bars, frames)
    found = find_on(ruler, [other.frame for other in others], rate=rate)
    if isinstance(found, NoTiming):
        found = Subdivision(parts=1)
    placer = Placer(ruler, found, rate=rate)

    def where(frame: float) -> tuple[int | None, float | None, str]:
        place = placer.place(frame)
        return place.bar, place.beat, place.name

    return where


def _nowhere(frame: float) -> tuple[int | None, float | None, str]:  # noqa: ARG001  # no tempo
    return None, None, ""
