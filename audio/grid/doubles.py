"""Two DIs of one part against each other: a double, hit by hit."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING

from msgspec.structs import replace

from audio.grid.pairing import best_pairs, paired_around
from audio.grid.telling import told
from audio.grid.timing import REACH_MS
from audio.vocab.timing import Doubles

if TYPE_CHECKING:
    from audio.grid.bars import BarGrid
    from audio.vocab.readiness import Hit

OFFSET_MS = 300.0
"""Farthest that the second as a whole may lie from the first."""

_SLOT_MS, _SLOTS = 5.0, 5
"""Offsets are counted in slots so wide; so many to either side add to one, less and less."""

_TRIED = 3

_LOOKED_AT = 1000
"""So many of the first hits tell the offset."""

_DOUBT = 0.6
"""A steady run fits as well when shifted by a note, but for the hands' spread, which adds up as the root of
how many hits there are: an offset as far as `OFFSET_MS` has to be better by so many of those roots, and by
one pair (reckoned, not tuned)."""


def compare_doubles(
    first_hits: Sequence[Hit],
    second_hits: Sequence[Hit],
    *,
    rate: int,
    offset_frames: float = 0.0,
    reach_ms: float = REACH_MS,
    bars: BarGrid | None = None,
) -> Doubles:
    """Return how late or early every hit of the second DI is against the first's.

    Parameters
    ----------
    first_hits
        In order of their frames.
    second_hits
        In order of their frames; a strum counts from its first string.
    rate
        Frames a second, of both.
    offset_frames
        Where the second's first frame lies on the first's frames, as far as it is known; what is left,
        up to `OFFSET_MS` either way, is found and told.
    reach_ms
        Farthest two hits that answer each other may lie apart, beyond that offset; more than 0.
    bars
        The grid on the first's frames, for places in words.

    Returns
    -------
    Doubles
        Deviations are the second's, late positive, less their mean; what the second lacks is missing, what
        only it has is extra. The other way round all signs are turned.
    """
    moved = [replace(hit, frame=hit.frame + offset_frames) for hit in second_hits]
    first, second = _in_ms(first_hits, rate), _in_ms(moved, rate)
    offset, pairs = _best(first, second, reach_ms=reach_ms)
    found = told(first_hits, moved, pairs, rate=rate, bars=bars)
    return Doubles(
        pairs=found.pairs,
        mean_ms=found.mean_ms,
        spread_ms=found.spread_ms,
        worst=found.worst,
        missing=found.missing,
        extra=found.extra,
        offset_ms=offset,
    )


def _in_ms(hits: Sequence[Hit], rate: int) -> list[float]:
    return [hit.frame * 1000.0 / rate for hit in hits]


def _best(
    first: Sequence[float], second: Sequence[float], *, reach_ms: float
) -> tuple[float, list[tuple[int, int]]]:
    """Return the offset under which most hits answer each other best, and the pairs."""
    some = first[:_LOOKED_AT]
    others = second[: bisect_right(second, some[-1] + OFFSET_MS)] if some else second[:0]
    doubt = 1.0 + _DOUBT * math.sqrt(min(len(some), len(others)))

    def worth(offset: float) -> float:
        pairs = best_pairs(some, [at - offset for at in others], reach=reach_ms)
        late = [others[two] - some[one] for one, two in pairs]
        moved = median(late) if late else offset
        apart = math.fsum(abs(one - moved) for one in late)
        return len(pairs) - apart / reach_ms - doubt * abs(moved) / OFFSET_MS

    offsets = _offsets(some, others, doubt)
    offset = max(offsets, key=worth) if len(offsets) > 1 else offsets[0]
    return paired_around(first, second, offset=offset, reach=reach_ms)


def _offsets(first: Sequence[float], second: Sequence[float], doubt: float) -> list[float]:
    """Return the most likely offsets, none alike: where the distances of all hits gather."""
    votes = _votes(first, second)
    smooth = {slot: _around(votes, slot) for slot in range(-_farthest(), _farthest() + 1)}
    worth = {slot: near - doubt * abs(slot) / _farthest() for slot, near in smooth.items() if near}
    peaks = [
        slot
        for slot, here in worth.items()
        if all(here >= worth.get(slot + side, -math.inf) for side in range(-_SLOTS, _SLOTS + 1))
    ]
    peaks.sort(key=lambda slot: (-worth[slot], abs(slot)))
    return [slot * _SLOT_MS for slot in peaks[:_TRIED]] or [0.0]


def _farthest() -> int:
    return round(OFFSET_MS / _SLOT_MS)


def _votes(first: Sequence[float], second: Sequence[float]) -> Counter[int]:
    """Return how many pairs of hits lie how many slots apart."""
    votes: Counter[int] = Counter()
    wide = OFFSET_MS + _SLOT_MS * _SLOTS
    for at in first:
        low, high = bisect_left(second, at - wide), bisect_right(second, at + wide)
        votes.update(round((other - at) / _SLOT_MS) for other in second[low:high])
    return votes


def _around(votes: Counter[int], slot: int) -> float:
    return sum(
        votes[slot + side] * (1.0 - abs(side) / (_SLOTS + 1)) for side in range(-_SLOTS, _SLOTS + 1)
    )
