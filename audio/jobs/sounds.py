"""The sounds of a part, by name, as files on the timeline of its newest DI."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from audio.files.chunks import time_reference
from audio.files.platform import open_at_once
from audio.session import layout, records
from audio.session.disk import said_plainly
from audio.session.opened import Session
from audio.vocab.balance import Balance, heard_db
from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.layers import DI, ORIGINAL, Layer, SoundName, original_key, variant_number
from audio.vocab.results import SoundHead
from audio.vocab.session_file import Part

AS_RECORDED = Balance()
"""Every microphone at 0 dB."""


def layers_of(
    session: Session, part: str, key: SoundName, balance: Balance = AS_RECORDED
) -> tuple[Layer, ...]:
    """Return the files of one sound and where each lies.

    Parameters
    ----------
    session
        Where the files are.
    part
        Name of the part.
    key
        Names the sound.
    balance
        Of a variant's microphones; the bare DI and originals are heard as they are.

    Returns
    -------
    tuple of Layer
        By the files' time stamps, which the newest DI revision's places; a microphone that is not heard
        is left out, so none is left where all are shut.

    Raises
    ------
    UseError
        If there is no such sound, or a file cannot be read.
    """
    of = session.part(part)[1]
    if key == DI:
        return (_of_file(session, of, DI, of.revisions[-1].file, of.revisions[-1].channel),)
    if key == ORIGINAL or key.startswith(f"{ORIGINAL}:"):
        return (_of_original(session, of, key),)
    return _of_variant(session, of, _number(of, key), balance)


def unplayable(
    layers: Sequence[Layer], heads: Mapping[str, SoundHead], *, rate: int, whose: str
) -> str:
    """Return why one of some files cannot be played with others; empty where all can.

    Parameters
    ----------
    layers
        The files.
    heads
        What they say of themselves, by path.
    rate
        Frames a second they must have.
    whose
        Rate that is, for the message: ``the stream runs``.

    Returns
    -------
    str
        A sentence without its end.
    """
    for one in layers:
        head = heads[one.path]
        if head.problem:
            return head.problem
        if head.sample_rate != rate:
            return f"it is at {head.sample_rate} Hz and {whose} at {rate} Hz"
        if one.channel >= head.channels:
            return f"{one.path} has no channel {one.channel + 1} any more"
    return ""


def _number(part: Part, key: SoundName) -> int:
    number = variant_number(key)
    if number is not None:
        return number
    raise UseError(
        f"{part.name}: {shown(key)!r} names no sound; name a variant by its number, an original as"
        f" {ORIGINAL}:NAME, or {DI}"
    )


def _of_original(session: Session, part: Part, key: SoundName) -> Layer:
    name = key.partition(":")[2]
    for one in part.originals:
        if key in (ORIGINAL, original_key(one.name)):
            return _of_file(session, part, ORIGINAL, one.file, one.channel)
    names = ", ".join(one.name for one in part.originals)
    what = f"no original {shown(name)!r}" if name else "no original"
    way_out = f"there are: {names}" if names else "add one with `secondpass add --original FILE`"
    raise UseError(f"{part.name} has {what}; {way_out}")


def _of_variant(session: Session, part: Part, number: int, balance: Balance) -> tuple[Layer, ...]:
    folder = layout.pass_folder(session.folder, part.name, number)
    if not layout.variant_json(folder).exists():
        raise UseError(f"{part.name} has no variant {number:03d}; name one that is there")
    variant = records.read_variant(folder)
    at = variant.time_reference - _stamp(_di(session, part))
    heard = ((one, heard_db(balance, one.return_name)) for one in variant.files)
    return tuple(
        Layer(
            name=one.return_name,
            path=str(session.path(one.path)),
            channel=0,
            at_frame=at,
            gain_db=gain,
        )
        for one, gain in heard
        if gain is not None
    )


def _of_file(session: Session, part: Part, name: str, file: str, channel: int) -> Layer:
    path, di = session.path(file), _di(session, part)
    at = 0 if path == di else _stamp(path) - _stamp(di)
    return Layer(name=name, path=str(path), channel=channel - 1, at_frame=at)


def _di(session: Session, part: Part) -> Path:
    return session.path(part.revisions[-1].file)


def _stamp(path: Path) -> int:
    with said_plainly(path, doing="read"), open_at_once(path) as file:
        return time_reference(file)
