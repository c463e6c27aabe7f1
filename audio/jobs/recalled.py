"""What is known of one sound, gathered for the recall sheet: chain, set-up, phrase, photos."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

import msgspec

from audio.grid.bars import BarGrid
from audio.jobs.setting.then import PHRASE_S
from audio.session.opened import Session
from audio.session.photos import find_photo
from audio.vocab.chain import Chain
from audio.vocab.errors import SecondpassError
from audio.vocab.likeness import Likeness
from audio.vocab.names import twin_key
from audio.vocab.opinion import Opinion
from audio.vocab.setup import SetupRecord, SoundResult, StepUsed
from audio.vocab.sheet import BarMark, PhotoLine, ReferencePhrase
from audio.vocab.sounds import Sound
from audio.vocab.units import signed
from audio.vocab.variant import Variant
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

_T = TypeVar("_T")

MOST_MARKS = 2000
"""Bars of a part that are marked; more lie closer than a pixel."""

LONGEST_LOOSE = 4000
"""Characters of settings that were not written by this program."""


def chain_of(variant: Variant, opinion: Opinion) -> tuple[str, Chain | None, str]:
    """Return a variant's chain: its name, its settings, and what else stands in their place.

    Parameters
    ----------
    variant
        As it was recorded.
    opinion
        Corrects its chain, perhaps.

    Returns
    -------
    tuple of str, Chain or None, and str
        No chain where nobody wrote its settings down; text where what was written is no chain.
    """
    name, content = variant.chain.name, variant.chain.content
    if opinion.chain:
        name, content = opinion.chain, opinion.chain_content or {}
    if not content:
        return name, None, ""
    try:
        return name, msgspec.convert(content | {"name": name}, Chain), ""
    except msgspec.ValidationError:
        text = msgspec.json.format(msgspec.json.encode(content), indent=2).decode(errors="replace")
        return name, None, text[:LONGEST_LOOSE]


def wiring_of(variant: Variant) -> Wiring | None:
    """Return the wiring a variant was made through; None where its record cannot be read."""
    return _converted(variant.setup.get("wiring"), Wiring)


def setup_of(
    variant: Variant, records: Sequence[SetupRecord]
) -> tuple[tuple[SetupRecord, ...], tuple[str, ...]]:
    """Return the records a variant was made under, and what was not set then, in words."""
    steps = _converted(variant.setup.get("steps"), tuple[StepUsed, ...]) or ()
    by_number = {one.number: one for one in records}
    used = tuple(by_number[one.number] for one in steps if one.number in by_number)
    unset = [_unset(one) for one in steps if one.state != "set"]
    lost = [
        f"{one.step}: its record {one.number} is gone"
        for one in steps
        if one.number is not None and one.number not in by_number
    ]
    return used, (*unset, *lost)


def _unset(one: StepUsed) -> str:
    why = "measured before, but not since something changed" if one.state == "stale" else one.state
    return f"{one.step}: {why}"


def _converted(value: Any, kind: type[_T]) -> _T | None:
    try:
        return None if value is None else msgspec.convert(value, kind)
    except msgspec.ValidationError:
        return None


# ------------------------------------------------------------------ the phrase


def phrase_of(
    session: Session,
    worker: Worker,
    variant: Variant,
    *,
    chain: str,
    kept: Sequence[Sound],
    records: Sequence[SetupRecord],
    grid: BarGrid | None,
) -> ReferencePhrase:
    """Return the stretch of the DI by which a sound is proven.

    Parameters
    ----------
    session
        Where the DI is.
    worker
        Finds the loudest stretch.
    variant
        The sound.
    chain
        Its chain's name.
    kept
        Sounds that were kept, oldest first.
    records
        Of the set-up; they tell how well a kept sound repeats.
    grid
        The song's bars on the DI.

    Returns
    -------
    ReferencePhrase
        That of the newest kept sound of this part, edit and chain; else the loudest 15 s of what the
        variant holds.
    """
    first, frames = _holds(variant)
    sound = next((one for one in reversed(kept) if _is_of(one, variant, chain)), None)
    if sound is not None:
        at, many = sound.phrase.from_frame, sound.phrase.frames
        floors = _floors(sound, records)
        return ReferencePhrase(
            from_frame=at, frames=many, bars=_bars(grid, at, many), sound=sound.name, floors=floors
        )
    found = worker.find_loudest(
        session.path(variant.di.path),
        channel=variant.di.channel - 1,
        seconds=PHRASE_S,
        from_frame=first,
        frames=frames,
    )
    return ReferencePhrase(
        from_frame=found.at_frame,
        frames=found.frames,
        bars=_bars(grid, found.at_frame, found.frames),
    )


def _holds(variant: Variant) -> tuple[int, int]:
    """Return which frames of the DI a variant's files hold: from which one, and how many."""
    first, frames = 0, variant.di.frames
    if variant.covers is not None:
        first = variant.covers.section_from_frame
        frames = variant.covers.section_to_frame - first
    begin = file_at(variant)
    end = begin + min((one.frames for one in variant.files), default=0)
    return first, max(1, min(first + frames, end) - first)


def file_at(variant: Variant) -> int:
    """Return the frame of its DI at which a variant's files begin."""
    return variant.covers.from_frame if variant.covers is not None else 0


def _is_of(sound: Sound, variant: Variant, chain: str) -> bool:
    first, frames = _holds(variant)
    phrase = sound.phrase
    inside = first <= phrase.from_frame and phrase.from_frame + phrase.frames <= first + frames
    same = (phrase.part, phrase.revision) == (variant.part, variant.revision)
    return same and inside and twin_key(sound.chain) == twin_key(chain)


def _floors(sound: Sound, records: Sequence[SetupRecord]) -> tuple[str, ...]:
    for record in records:
        result = record.outcome.result
        if isinstance(result, SoundResult) and result.kept and result.name == sound.name:
            return tuple(_floor(one) for one in result.compared.returns)
    return ()


def _floor(one: Likeness) -> str:
    if one.level_floor_db is None:
        return f"{one.name}: not known"
    bands = [band.floor_db for band in one.bands if band.floor_db is not None]
    third = f", a third octave up to {signed(max(bands), digits=2)} dB" if bands else ""
    return f"{one.name}: level {signed(one.level_floor_db, digits=2)} dB{third}"


def _bars(grid: BarGrid | None, at: int, frames: int) -> str:
    if grid is None:
        return ""
    first, last = grid.bar_at(at), grid.bar_at(at + frames - 1)
    if first < 1 <= last:
        return f"from before bar 1 to bar {last}"
    return f"bar {first}" if first == last else f"bars {first} to {last}"


def bar_marks(grid: BarGrid | None, *, frames: int, rate: int) -> tuple[BarMark, ...]:
    """Return where bars begin in a DI of so many frames."""
    if grid is None:
        return ()
    first = grid.bar_at(0)
    last = min(grid.bar_at(frames), first + MOST_MARKS)
    places = ((bar, grid.frame(bar)) for bar in range(first, last + 1))
    return tuple(BarMark(at_s=at / rate, bar=bar) for bar, at in places if at >= 0)


# ------------------------------------------------------------------ photos


def photos_of(
    session: Session, worker: Worker, variant: Variant, names: Sequence[str]
) -> tuple[PhotoLine, ...]:
    """Return each photo that is named, made ready, or why it is not shown."""
    return tuple(_photo(session, worker, variant, name) for name in dict.fromkeys(names))


def _photo(session: Session, worker: Worker, variant: Variant, name: str) -> PhotoLine:
    try:
        path = find_photo(session, variant.part, variant.number, name)
        return PhotoLine(name=name, shown=worker.read_photo(path))
    except SecondpassError as error:
        return PhotoLine(name=name, problem=session.inside(str(error)))
