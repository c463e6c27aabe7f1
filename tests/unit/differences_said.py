"""Differences as they are measured, with figures of anybody's choice, for tests of words and pictures."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from audio.measure.thirds import NOMINAL_HZ
from audio.vocab.differences import (
    Apart,
    Differences,
    Rings,
    Shape,
    ShapeKind,
    SoundFigures,
    SoundsApart,
    ThirdApart,
)
from audio.vocab.levels import ThirdLevel
from audio.vocab.results import Echo

A = SoundFigures(
    thirds=tuple(
        ThirdLevel(hz=hz, dbfs=-30.0 - abs(at - 10) * 2.0) for at, hz in enumerate(NOMINAL_HZ)
    ),
    loudness_lufs=-20.0,
    peak_dbfs=-6.0,
    true_peak_dbtp=-5.8,
    rms_dbfs=-23.0,
    crest_db=12.0,
    noise_dbfs=-80.0,
    rings=Rings(falls_s=0.04, stops=3),
)


def apart(db: float, unsure: float | None = 0.05) -> Apart:
    return Apart(db=db, plus_minus_db=unsure)


def shape(kind: ShapeKind, hz: float | None, db: float, unsure: float | None = 0.05) -> Shape:
    return Shape(kind=kind, hz=hz, apart=apart(db, unsure))


def echo(ms: float, db: float = -12.0) -> Echo:
    return Echo(repeat_ms=ms, plus_minus_ms=0.1, level_db=db)


def told(a: SoundFigures = A, b: SoundFigures = A, **more: Any) -> Differences:
    one = Differences(
        sample_rate=48_000,
        from_frame=0,
        frames=960_000,
        a=a,
        b=b,
        loudness=apart(0.0),
        crest=apart(0.0),
    )
    return replace(one, **more)


def shelved() -> Differences:
    """Return a B that is 6 dB brighter above 2 kHz, and 3 dB louder; its lowest bands nobody can tell."""
    extra = [6.0 if hz > 2000.0 else 3.0 if hz == 2000.0 else 0.0 for hz in NOMINAL_HZ]
    b = replace(
        A,
        loudness_lufs=-17.0,
        thirds=tuple(
            ThirdLevel(hz=one.hz, dbfs=one.dbfs + more + 2.0)
            for one, more in zip(A.thirds, extra, strict=True)
        ),
    )
    thirds = tuple(
        ThirdApart(hz=hz, apart=apart(more - 1.0) if hz > 80.0 else None)
        for hz, more in zip(NOMINAL_HZ, extra, strict=True)
    )
    return told(b=b, loudness=apart(3.0), thirds=thirds, shapes=(shape("above", 2000.0, 6.0),))


def sounds(differences: Differences, words: tuple[str, ...]) -> SoundsApart:
    return SoundsApart(
        part="rhythm-left",
        a="002",
        b="001",
        a_text="002 crunch",
        b_text="001 bare path",
        covers="the whole",
        differences=differences,
        words=words,
    )
