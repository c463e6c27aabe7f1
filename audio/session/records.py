"""The JSON files of a pass: what was ordered, what the engine did, what it left.

``order.json`` may be written again until the pass rolls; ``variant.json`` is written once.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

import msgspec

from audio.files import platform
from audio.files.text import write_atomic, write_new
from audio.session import layout
from audio.session.disk import said_plainly
from audio.session.opened import Session
from audio.session.passes import folders
from audio.vocab.errors import UseError
from audio.vocab.messages import Ended, decode_event
from audio.vocab.order import Order
from audio.vocab.variant import Broken, Variant

FORMAT = 1
"""The newest ``order.json`` and ``variant.json`` this program reads."""

T = TypeVar("T")


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


def variants(session: Session, part: str | None = None) -> Variants:
    """Return every variant of a session, or of one part; those that cannot be read stand apart."""
    found, broken = [], []
    for one in folders(session, part):
        if not platform.is_taken(layout.variant_json(one.folder)):
            continue
        try:
            found.append(read_variant(one.folder))
        except UseError as error:
            where = one.folder.relative_to(session.folder).as_posix()
            broken.append(Broken(folder=where, reason=str(error)))
    return Variants(found=tuple(found), broken=tuple(broken))


def _pretty(value: msgspec.Struct) -> bytes:
    return msgspec.json.format(msgspec.json.encode(value), indent=2) + b"\n"


def _bytes(path: Path) -> bytes:
    with said_plainly(path, doing="read"):
        return path.read_bytes()


def _read(path: Path, kind: type[T]) -> T:
    data = _bytes(path)
    try:
        value = msgspec.json.decode(data, type=dict[str, Any])
        if isinstance(value.get("format"), int) and value["format"] > FORMAT:
            raise UseError(f"{path} was written by a newer program; update this one")
        return msgspec.convert(value, kind)
    except msgspec.MsgspecError as error:
        raise UseError(f"{path} is damaged ({error}); restore it from a copy") from error
