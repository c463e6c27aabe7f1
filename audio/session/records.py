"""The JSON files of a pass: what was ordered, what the engine did, what it left.

``order.json`` may be written again until the pass rolls; ``variant.json`` is written once.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TypeVar

import msgspec

from audio.files import platform
from audio.files.text import write_atomic, write_new
from audio.session import layout
from audio.session.disk import said_plainly
from audio.session.opened import Session
from audio.session.passes import Claim, folders
from audio.vocab.errors import UseError
from audio.vocab.messages import Ended, decode_event
from audio.vocab.order import Order
from audio.vocab.variant import Broken, ChainNamed, Summary, Variant

FORMAT = 1
"""The newest ``order.json`` and ``variant.json`` this program reads."""

_UNREADABLE = (msgspec.MsgspecError, RecursionError)
"""What reading a damaged file may raise; the second from brackets in brackets without end."""

T = TypeVar("T", Order, Variant, Summary, "_Through")


class _Formatted(msgspec.Struct, frozen=True, kw_only=True):
    format: int = FORMAT


class _Through(_Formatted, frozen=True, kw_only=True):
    """Which chain a variant was made through."""

    chain: ChainNamed


class Variants(msgspec.Struct, frozen=True, kw_only=True):
    """What a session has recorded."""

    found: tuple[Variant, ...]
    """By part, then number."""
    broken: tuple[Broken, ...]


def write_order(pass_folder: Path, order: Order) -> None:
    """Write ``order.json``; `UseError` if the disk refuses."""
    path = layout.order_json(pass_folder)
    with said_plainly(path, doing="written"):
        write_atomic(path, _pretty(order))


def read_order(pass_folder: Path) -> Order:
    """Return what was ordered; `UseError` if the file is missing or no order."""
    return _read(layout.order_json(pass_folder), Order)


def read_roll(pass_folder: Path) -> Ended:
    """Return the engine's record; `UseError` if the file is missing or no such record."""
    path = layout.roll_json(pass_folder)
    data = _bytes(path)
    try:
        event = decode_event(data)
    except msgspec.MsgspecError as error:
        raise UseError(
            f"{path} is no record of a roll ({error}); restore it from a copy"
        ) from error
    if not isinstance(event, Ended):
        raise UseError(f"{path} is no record of a roll's end; restore it from a copy")
    return event


def write_variant(pass_folder: Path, variant: Variant) -> None:
    """Write ``variant.json``, which must not exist yet; `UseError` if it does or the disk refuses."""
    path = layout.variant_json(pass_folder)
    with said_plainly(path, doing="written"):
        try:
            write_new(path, _pretty(variant))
        except FileExistsError:
            text = f"{path} is there already and is never replaced"
            raise UseError(f"{text}; the pass has been judged") from None


def read_variant(pass_folder: Path) -> Variant:
    """Return what a pass left; `UseError` if the file is missing or no variant."""
    return _read(layout.variant_json(pass_folder), Variant)


def read_summary(pass_folder: Path) -> Summary:
    """Return what a list tells of a pass; fails as `read_variant`, but does not look at the rest."""
    return _read(layout.variant_json(pass_folder), Summary)


def variants(session: Session, part: str | None = None, *, chain: str | None = None) -> Variants:
    """Return variants of a session; those that cannot be read stand apart.

    Parameters
    ----------
    session
        The session.
    part
        Name of the only part whose variants are wanted.
    chain
        Name of the only chain; the variants of others are read no further than to their names.

    Returns
    -------
    Variants
        By part, then number.
    """
    found, broken = [], []
    for one in folders(session, part):
        path = layout.variant_json(one.folder)
        if not platform.is_taken(path):
            continue
        try:
            data = _bytes(path)
            if chain is None or _decoded(data, path, _Through).chain.name == chain:
                found.append(_decoded(data, path, Variant))
        except UseError as error:
            broken.append(broken_at(session, one, error))
    return Variants(found=tuple(found), broken=tuple(broken))


def newest(
    session: Session, part: str, *, chain: str | None = None, before: int | None = None
) -> Variant | None:
    """Return the variant of a part's highest number that can be read; None where there is none.

    Parameters
    ----------
    session
        The session.
    part
        Name of the part.
    chain
        Name of the only chain to be looked for.
    before
        Number that it must be under.

    Returns
    -------
    Variant or None
        The whole of it.
    """
    for one in reversed(folders(session, part)):
        if before is not None and one.number >= before:
            continue
        path = layout.variant_json(one.folder)
        with suppress(UseError):
            data = _bytes(path)
            if chain is None or _decoded(data, path, _Through).chain.name == chain:
                return _decoded(data, path, Variant)
    return None


def broken_at(session: Session, one: Claim, error: UseError) -> Broken:
    """Return what is told of a pass whose variant cannot be read."""
    return Broken(folder=one.folder.relative_to(session.folder).as_posix(), reason=str(error))


def _pretty(value: msgspec.Struct) -> bytes:
    return msgspec.json.format(msgspec.json.encode(value), indent=2) + b"\n"


def _bytes(path: Path) -> bytes:
    with said_plainly(path, doing="read"):
        return path.read_bytes()


def _read(path: Path, kind: type[T]) -> T:
    return _decoded(_bytes(path), path, kind)


def _decoded(data: bytes, path: Path, kind: type[T]) -> T:
    """Return the value in a file's content, of which only the fields of `kind` are looked at."""
    try:
        value = msgspec.json.decode(data, type=kind)
    except _UNREADABLE as error:
        _refuse_newer(data, path)
        raise UseError(f"{path} is damaged ({error}); restore it from a copy") from error
    if value.format > FORMAT:
        raise _newer(path)
    return value


def _refuse_newer(data: bytes, path: Path) -> None:
    with suppress(*_UNREADABLE):
        if msgspec.json.decode(data, type=_Formatted).format > FORMAT:
            raise _newer(path)


def _newer(path: Path) -> UseError:
    return UseError(f"{path} was written by a newer program; update this one")
