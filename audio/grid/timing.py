"""A part's hits against the grid, against its own mean, and against another recording's hits."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.structs import replace

from audio.grid.figures import farthest, mean, spread
from audio.grid.pairing import paired_around
from audio.grid.placing import placed
from audio.grid.ruler import Ruler
from audio.grid.subdivision import find_on
from audio.grid.telling import told
from audio.vocab.timing import BarTiming, NoTiming, Pairs, PlacedHit, Subdivision, Timing

if TYPE_CHECKING:
    from audio.grid.bars import BarGrid
    from audio.vocab.readiness import Hit

REACH_MS = 80.0
"""Hits farther apart are not the same stroke (a sixteenth at 190; common practice, no source)."""


def against_grid(
    hits: Sequence[Hit],
    bars: BarGrid,
    *,
    rate: int,
    subdivision: int | None = None,
    swing: float | None = None,
) -> Timing | NoTiming:
    """Return how late or early every hit is against the nearest place a part is played on.

    Parameters
    ----------
    hits
        In order of their frames.
    bars
        The grid on the DI's frames.
    rate
        Frames a second.
    subdivision
        Parts of a beat, where it is known: 1, 2, 3, 4, 6 or 8; found from the hits otherwise.
    swing
        The first part's share of a pair, where it is known: 0.5 (even) to 0.75.

    Returns
    -------
    Timing | NoTiming
        Mean and spread leave out strays: hits far from every place, and the farther of two at one place.

    Raises
    ------
    UseError
        If there is no such subdivision, or it has no pairs to be swung.
    """
    frames = [hit.frame for hit in hits]
    ruler = Ruler(bars, frames)
    found = find_on(ruler, frames, rate=rate, subdivision=subdivision, swing=swing)
    if isinstance(found, NoTiming):
        return found
    return _summed(found, placed(frames, ruler, found, rate=rate))


def against_own_mean(
    hits: Sequence[Hit],
    bars: BarGrid | None,
    *,
    rate: int,
    subdivision: int | None = None,
    swing: float | None = None,
) -> Timing | NoTiming:
    """Return how late or early every hit is against the grid less the part's own mean.

    Parameters
    ----------
    hits
        In order of their frames.
    bars
        The grid on the DI's frames; None where the song's tempo is not known. A pulse taken from the same
        hits would follow them, and call late what it had not followed: there is no answer then.
    rate
        Frames a second.
    subdivision
        As in `against_grid`.
    swing
        As in `against_grid`.

    Returns
    -------
    Timing | NoTiming
        A steady push or drag is none; `taken_off_ms` is the mean against the grid.

    Raises
    ------
    UseError
        If there is no such subdivision, or it has no pairs to be swung.
    """
    if bars is None:
        return NoTiming(reason="no tempo", hits=len(hits))
    timing = against_grid(hits, bars, rate=rate, subdivision=subdivision, swing=swing)
    if isinstance(timing, NoTiming) or timing.mean_ms is None:
        return timing
    off = timing.mean_ms
    moved = [replace(hit, deviation_ms=hit.deviation_ms - off) for hit in timing.hits]
    return replace(_summed(timing.subdivision, moved), taken_off_ms=off)


def against_recording(
    hits: Sequence[Hit],
    others: Sequence[Hit],
    *,
    rate: int,
    offset_frames: float = 0.0,
    reach_ms: float = REACH_MS,
    bars: BarGrid | None = None,
) -> Pairs:
    """Return how late or early every hit is against the hit of another recording that it goes with.

    Parameters
    ----------
    hits
        The part's, in order of their frames.
    others
        The other recording's, such as the drums, in order of their frames.
    rate
        Frames a second, of both.
    offset_frames
        Where the other recording's first frame lies on the part's frames.
    reach_ms
        Farthest a hit may lie from its partner, beyond what all lie late; more than 0.
    bars
        The grid on the part's frames, for places in words.

    Returns
    -------
    Pairs
        Late positive; pairs are one to one, the best as a whole.
    """
    moved = [replace(other, frame=other.frame + offset_frames) for other in others]
    _, pairs = paired_around(
        [other.frame for other in moved],
        [hit.frame for hit in hits],
        offset=0.0,
        reach=reach_ms * rate / 1000.0,
    )
    return told(moved, hits, pairs, rate=rate, bars=bars)


def _summed(found: Subdivision, hits: Sequence[PlacedHit]) -> Timing:
    counted = [hit for hit in hits if hit.stray is None]
    by_bar: defaultdict[int, list[float]] = defaultdict(list)
    for hit in counted:
        by_bar[hit.bar].append(hit.deviation_ms)
    deviations = [hit.deviation_ms for hit in counted]
    return Timing(
        subdivision=found,
        hits=tuple(hits),
        bars=tuple(_bar(bar, late) for bar, late in sorted(by_bar.items())),
        count=len(counted),
        mean_ms=mean(deviations),
        spread_ms=spread(deviations),
        worst=farthest(counted, by=lambda hit: hit.deviation_ms),
    )


def _bar(bar: int, late: Sequence[float]) -> BarTiming:
    return BarTiming(
        bar=bar, count=len(late), mean_ms=math.fsum(late) / len(late), spread_ms=spread(late)
    )
