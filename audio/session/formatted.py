"""The JSON files the program keeps in a session: written to be read by people, decoded strictly."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any, Protocol, TypeVar

import msgspec

from audio.files.text import read_whole
from audio.session.disk import said_plainly
from audio.vocab import strict_json
from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.names import is_inside

FORMAT = 1
"""The newest format of any of them that this program reads."""


class Formatted(msgspec.Struct, frozen=True, kw_only=True):
    """What each of these files has."""

    format: int = FORMAT


class _HasFormat(Protocol):
    @property
    def format(self) -> int: ...


T = TypeVar("T", bound=_HasFormat)


def pretty(value: msgspec.Struct) -> bytes:
    """Return a value as indented JSON with a line's end."""
    return msgspec.json.format(msgspec.json.encode(value), indent=2) + b"\n"


def content(path: Path) -> bytes:
    """Return what a file holds; `UseError` if it cannot be read."""
    with said_plainly(path, doing="read"):
        return read_whole(path)


def decoded(data: bytes, path: Path, kind: type[T]) -> T:
    """Return the value in a file's content, of which only the fields of `kind` are looked at.

    `UseError` if it is damaged or was written by a newer program.
    """
    try:
        value: T = strict_json.decode(_decoder(kind), data)
    except msgspec.ValidationError as error:
        _refuse_newer(data, path)
        raise damaged(path, str(error)) from error
    if value.format > FORMAT:
        raise _newer(path)
    return value


def refuse_untrue(path: Path, problem: str) -> None:
    """Raise `UseError` if a file holds what the program would never have written."""
    if problem:
        raise damaged(path, problem)


def time_problem(made_at: str) -> str:
    """Return why a text is no time as the program writes it, empty if it is one."""
    try:
        aware = datetime.fromisoformat(made_at).utcoffset() is not None
    except ValueError:
        aware = False
    return "" if aware else f"{shown(made_at)!r} is no time with its offset"


def place_problem(paths: Iterable[str]) -> str:
    """Return which of some paths leads out of the session's folder, empty if none does."""
    outside = next((path for path in paths if not is_inside(path)), None)
    return "" if outside is None else f"{shown(outside)!r} does not lie in the session's folder"


def damaged(path: Path, why: str) -> UseError:
    """Return what is said of a file that holds what the program never writes."""
    return UseError(f"{path} is damaged ({why}); restore it from a copy")


@cache
def _decoder(kind: type[Any]) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(kind)


def _refuse_newer(data: bytes, path: Path) -> None:
    with suppress(msgspec.ValidationError):
        if strict_json.decode(_decoder(Formatted), data).format > FORMAT:
            raise _newer(path)


def _newer(path: Path) -> UseError:
    return UseError(f"{path} was written by a newer program; update this one")
