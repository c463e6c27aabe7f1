"""What is told of a DI that was checked; field names are relied on by scripts."""

from __future__ import annotations

import msgspec

from audio.vocab.checked import Change, Checked
from audio.vocab.findings import Verdict
from audio.vocab.readiness import DiFinding, Repeat
from audio.vocab.results import AudioFacts
from audio.vocab.timing import (
    BarTiming,
    Doubles,
    NoTiming,
    NoTimingReason,
    Pairs,
    PlacedHit,
    Subdivision,
    Timing,
)


class ToldHit(msgspec.Struct, frozen=True, kw_only=True):
    """One hit; where it should be is None where there is no grid."""

    at_s: float
    width_ms: float
    level_dbfs: float
    confidence: float
    grid_s: float | None = None
    deviation_ms: float | None = None
    """Late more than 0."""
    bar: int | None = None
    beat: float | None = None
    """From 1 within the bar; 3.5 is the "and" of 3, swung or not."""
    stray: bool = False
    """It lies between the grid's places, and is left out of the summary."""


class ToldJoint(msgspec.Struct, frozen=True, kw_only=True):
    """One edit joint."""

    at_s: float
    frame: int
    kind: str
    size_db: float
    confidence: float


class ToldLevel(msgspec.Struct, frozen=True, kw_only=True):
    """How loud the DI is."""

    peak_dbfs: float
    true_peak_dbtp: float
    loudness_lufs: float | None
    crest_db: float | None
    dc: float
    clipped_runs: int


class ToldSummary(msgspec.Struct, frozen=True, kw_only=True):
    """The hits as a whole."""

    hits: int
    """All that were found."""
    counted: int
    """Those that lie at the grid's places."""
    mean_ms: float | None
    """Drag; a push is less than 0."""
    spread_ms: float | None
    subdivision: Subdivision | None
    reason: NoTimingReason | None
    """Why there is no mean."""


class FileChecked(msgspec.Struct, frozen=True, kw_only=True):
    """A DI that was checked, and what it was held against."""

    name: str
    """Of the part, or of the file."""
    checked: Checked
    drums: Pairs | None = None
    """Its hits beside another recording's."""
    double: Doubles | None = None
    """Its hits beside those of the other DI of a double."""


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """One DI."""

    name: str
    """Of the part, or of the file."""
    verdict: Verdict
    file: AudioFacts
    findings: tuple[DiFinding, ...]
    hits: tuple[ToldHit, ...]
    joints: tuple[ToldJoint, ...]
    repeats: tuple[Repeat, ...]
    """Stretches that are the same as earlier ones."""
    level: ToldLevel
    summary: ToldSummary
    bars: tuple[BarTiming, ...] = ()
    """Mean and spread of each bar in which a hit counts."""
    worst: tuple[PlacedHit, ...] = ()
    """The ten hits that are furthest off."""
    drums: Pairs | None = None
    double: Doubles | None = None
    change: Change | None = None
    """What is other than in the part's revision before."""


def report_of(one: FileChecked) -> Report:
    """Return what is told of a DI."""
    checked = one.checked
    measures, timing = checked.measures, checked.timing
    level, rate = measures.level, measures.facts.sample_rate
    return Report(
        name=one.name,
        verdict=checked.verdict,
        file=measures.facts,
        findings=checked.findings,
        hits=_hits(checked),
        joints=tuple(
            ToldJoint(
                at_s=joint.frame / rate,
                frame=joint.frame,
                kind=joint.kind,
                size_db=joint.size_db,
                confidence=joint.confidence,
            )
            for joint in measures.joints
        ),
        repeats=measures.repeats,
        level=ToldLevel(
            peak_dbfs=level.peak_dbfs,
            true_peak_dbtp=level.true_peak_dbtp,
            loudness_lufs=level.loudness_lufs,
            crest_db=level.crest_db,
            dc=level.dc,
            clipped_runs=level.clipped_runs,
        ),
        summary=_summary(checked),
        bars=timing.bars if isinstance(timing, Timing) else (),
        worst=timing.worst if isinstance(timing, Timing) else (),
        drums=one.drums,
        double=one.double,
        change=checked.change,
    )


def _hits(checked: Checked) -> tuple[ToldHit, ...]:
    """Return the hits, each with its place: the grid tells of them all, in the same order."""
    hits, rate = checked.measures.hits, checked.measures.facts.sample_rate
    placed: tuple[PlacedHit | None, ...] = (None,) * len(hits)
    if isinstance(checked.timing, Timing):
        placed = checked.timing.hits
    return tuple(
        ToldHit(
            at_s=hit.frame / rate,
            width_ms=hit.width_ms,
            level_dbfs=hit.level_dbfs,
            confidence=hit.confidence,
            grid_s=place.grid_s if place else None,
            deviation_ms=place.deviation_ms if place else None,
            bar=place.bar if place else None,
            beat=place.beat if place else None,
            stray=place is not None and place.stray is not None,
        )
        for hit, place in zip(hits, placed, strict=True)
    )


def _summary(checked: Checked) -> ToldSummary:
    timing, hits = checked.timing, len(checked.measures.hits)
    if isinstance(timing, NoTiming):
        return ToldSummary(
            hits=hits,
            counted=0,
            mean_ms=None,
            spread_ms=None,
            subdivision=None,
            reason=timing.reason,
        )
    return ToldSummary(
        hits=hits,
        counted=timing.count,
        mean_ms=timing.mean_ms,
        spread_ms=timing.spread_ms,
        subdivision=timing.subdivision,
        reason=None,
    )
