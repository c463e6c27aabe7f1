"""Where hits lie against the grid, against another recording, and two DIs against each other.

Feel is not a fault: these are figures, nothing here says that anything is wrong. Deviations are in
milliseconds, late positive. Times are seconds from the DI's first frame. A bar is told as the song counts
it (before bar 1 comes bar 0), a beat from 1 within its bar, 3.5 being the "and" of 3, swung or not.
"""

from __future__ import annotations

from typing import Literal

import msgspec

NoTimingReason = Literal["no tempo", "too few hits", "no subdivision fits"]
"""Why there are no deviations: the song's tempo is not known; so few hits that any grid fits; the hits lie
as if at random, so that the nearest place means nothing."""

StrayKind = Literal["between", "second"]
"""Why a hit does not count: it lies far from every place; another hit lies nearer to its place."""


class NoTiming(msgspec.Struct, frozen=True, kw_only=True):
    """Hits that cannot be told against a grid."""

    reason: NoTimingReason
    hits: int
    """How many there were."""


class OtherBar(msgspec.Struct, frozen=True, kw_only=True):
    """A bar that is clearly played on another subdivision than the part, such as a triplet fill."""

    bar: int
    parts: int


class Subdivision(msgspec.Struct, frozen=True, kw_only=True):
    """Which places of a beat a part is played on."""

    parts: int
    """Of a beat: 1, 2, 3, 4, 6 or 8."""
    swing: float | None = None
    """Share of the first of two parts in the pair, 0.5 to 0.75; None where the parts are even."""
    confidence: float = 1.0
    """How far the hits speak for it: its share among all subdivisions and hits at random, 0 to 1; 1 where
    it was given."""
    lag_ms: float = 0.0
    """How late the hits lie as a whole: the nearest place is looked for less this."""
    spread_ms: float = 0.0
    """Standard deviation of the hits around it, as it was fitted."""
    other_bars: tuple[OtherBar, ...] = ()
    """In order; none where the subdivision was given."""


class PlacedHit(msgspec.Struct, frozen=True, kw_only=True):
    """One hit and its place on the grid."""

    at_s: float
    grid_s: float
    """Where its place lies; swung where the part is."""
    deviation_ms: float
    bar: int
    beat: float
    place: str
    """In words, such as ``bar 12 beat 3 and``."""
    stray: StrayKind | None = None
    """Why it is left out of mean, spread, counts and the worst; None where it counts."""


class BarTiming(msgspec.Struct, frozen=True, kw_only=True):
    """The hits of one bar that count."""

    bar: int
    count: int
    mean_ms: float
    spread_ms: float | None
    """Standard deviation; None for a single hit."""


class Timing(msgspec.Struct, frozen=True, kw_only=True):
    """A part's hits against the grid."""

    subdivision: Subdivision
    hits: tuple[PlacedHit, ...]
    """All of them, strays too, in order."""
    bars: tuple[BarTiming, ...]
    """Those in which a hit counts, in order."""
    count: int
    """Hits that count."""
    mean_ms: float | None
    """The push (less than 0) or drag; None where no hit counts."""
    spread_ms: float | None
    """Standard deviation around the mean (sample, over n − 1); None for fewer than two hits."""
    worst: tuple[PlacedHit, ...]
    """Up to ten that count, the farthest first."""
    taken_off_ms: float = 0.0
    """What was taken off every deviation: the part's own mean where that is the measure."""


class PairedHit(msgspec.Struct, frozen=True, kw_only=True):
    """A hit and the one in the other recording that answers it.

    Both are told on one timeline: the part's, of a double the first's.
    """

    at_s: float
    """Of the one that is judged: the part's, of a double the second's."""
    other_s: float
    apart_ms: float
    """How late the one that is judged lies."""
    deviation_ms: float
    """The same less the mean of all."""
    strum_ms: float
    """Width of the one that is judged less that of the other: strings struck more slowly."""
    bar: int | None = None
    beat: float | None = None
    place: str = ""
    """In words; empty where no tempo is known."""


class LoneHit(msgspec.Struct, frozen=True, kw_only=True):
    """A hit that nothing in the other recording answers."""

    at_s: float
    level_dbfs: float
    bar: int | None = None
    beat: float | None = None
    place: str = ""


class Pairs(msgspec.Struct, frozen=True, kw_only=True):
    """Hits against another recording's: the drums, or the other half of a double."""

    pairs: tuple[PairedHit, ...]
    """In order."""
    mean_ms: float | None
    """How late the judged hits lie as a whole: feel, or an offset between the files, nobody can tell; None
    where nothing was paired."""
    spread_ms: float | None
    """Standard deviation around the mean; None for fewer than two pairs."""
    worst: tuple[PairedHit, ...]
    """Up to ten, the largest deviation from the mean first."""
    missing: tuple[LoneHit, ...]
    """Of the other recording, answered by nothing judged."""
    extra: tuple[LoneHit, ...]
    """Judged hits that the other recording does not have."""


class Doubles(Pairs, frozen=True, kw_only=True):
    """The second DI of a double against the first."""

    offset_ms: float
    """How late the second lies as a whole, by the median; hits answer each other around it."""
