"""A comparison of two sounds in figures against their tolerances, and in one sentence."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from audio.verdict.likeness import tolerance
from audio.verdict.thresholds import (
    SAME_DISTANCE_CM,
    SAME_LEVEL_DB,
    SAME_SEND_DB,
    SAME_THIRD_DB,
)
from audio.vocab.findings import Finding
from audio.vocab.likeness import BandDifference, Likeness, Moved, SoundsCompared
from audio.vocab.setup import Row
from audio.vocab.units import signed


def rows_of_likeness(compared: SoundsCompared) -> tuple[Row, ...]:
    """Return the send where a witness tells it, then each return: level, worst band, distance, the rest."""
    rows = []
    if compared.send_db is not None:
        within = tolerance(SAME_SEND_DB, compared.send_floor_db)
        rows.append(_row("send", compared.send_db, "dB", within, digits=2))
    for one in compared.returns:
        rows += _of_return(one)
    return tuple(rows)


def findings_of_likeness(moved: Moved, *, kept: bool, name: str) -> tuple[Finding, ...]:
    """Return what is to be said: nothing of a sound that is the same, look of one that is not.

    Of a sound that was kept just now: ``sound-restless`` where its own repetition is another sound.
    """
    if moved.is_same:
        return ()
    if kept:
        text = f"{name} does not repeat itself: {moved.text}"
        advice = "Warm the amp up, or keep it again without what moves by itself."
        return (Finding(code="sound-restless", weight="look", text=text, advice=advice),)
    return (Finding(code="sound-moved", weight="look", text=moved.text, advice=moved.advice),)


def headline_of_likeness(
    compared: SoundsCompared, moved: Moved, *, kept: bool, name: str, age: str
) -> str:
    """Return in one sentence whether it is the sound that was kept so long ago, or how well it repeats."""
    if not kept:
        since = f", {age}" if age else ""
        return f"{name}{since}: {moved.text}"
    level = max((one.level_floor_db or 0.0 for one in compared.returns), default=0.0)
    return f"{name} is kept; it repeats itself to {signed(level, digits=2)} dB"


def _of_return(one: Likeness) -> Iterator[Row]:
    if one.reason is not None:
        yield Row(name=one.name, value=None, unit="dB", word=one.reason)
        return
    within = tolerance(SAME_LEVEL_DB, one.level_floor_db)
    yield _row(one.name, one.level_db, "dB", within, digits=2, word="level")
    if (band := _worst(one)) is not None:
        hz = f"{band.hz:g} Hz" if band.hz < 1000.0 else f"{band.hz / 1000.0:g} kHz"
        within = tolerance(SAME_THIRD_DB, band.floor_db)
        worst = _row("", band.difference_db, "dB", within, word=f"at {hz}, the most")
        yield replace(worst, bands_db=tuple(each.difference_db for each in one.bands))
    if one.distance_cm is not None:
        within = tolerance(SAME_DISTANCE_CM, one.distance_floor_cm)
        yield _row("", one.distance_cm, "cm", within, word="distance")
    if one.crest_db is not None:
        yield Row(name="", value=one.crest_db, unit="dB", word="crest")
    if one.noise_db is not None:
        yield Row(name="", value=one.noise_db, unit="dB", word="noise")


def _worst(one: Likeness) -> BandDifference | None:
    known = [band for band in one.bands if band.difference_db is not None]
    return max(known, key=lambda band: abs(band.difference_db or 0.0), default=None)


def _row(
    name: str, value: float | None, unit: str, within: float, *, digits: int = 1, word: str = ""
) -> Row:
    return Row(
        name=name, value=value, unit=unit, digits=digits, low=-within, high=within, word=word
    )
