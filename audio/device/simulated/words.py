"""The words of pedals and faults: what a free dictionary may say, read strictly."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audio.vocab.errors import UseError


@dataclass(frozen=True)
class Number:
    """A number between two bounds, both allowed."""

    low: float
    high: float
    default: float | None = None
    """Taken when the word is left out; None makes the word compulsory unless `optional`."""
    whole: bool = False
    optional: bool = False

    def read(self, value: object) -> float | int:
        """Return the value as a number; raise `ValueError` with what is wanted instead."""
        wanted = (
            f"{'a whole number' if self.whole else 'a number'} from {self.low:g} to {self.high:g}"
        )
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ValueError(wanted)  # noqa: TRY004 - a wrong word, not a wrong program
        if not math.isfinite(value) or not self.low <= value <= self.high:
            raise ValueError(wanted)
        if self.whole and value != int(value):
            raise ValueError(wanted)
        return int(value) if self.whole else float(value)


@dataclass(frozen=True)
class OneOf:
    """One of some numbers."""

    numbers: tuple[int, ...]
    default: int | None = None
    optional: bool = False

    def read(self, value: object) -> int:
        """Return the value; raise `ValueError` with the numbers it may be."""
        if (
            isinstance(value, bool)
            or not isinstance(value, (int, float))
            or value not in self.numbers
        ):
            raise ValueError(" or ".join(str(number) for number in self.numbers))
        return int(value)


@dataclass(frozen=True)
class Switch:
    """True or false."""

    default: bool
    optional: bool = False

    def read(self, value: object) -> bool:
        """Return the value; raise `ValueError` for anything but true and false."""
        if not isinstance(value, bool):
            raise ValueError("true or false")  # noqa: TRY004 - a wrong word, not a wrong program
        return value


@dataclass(frozen=True)
class Text:
    """A name."""

    default: None = None
    optional: bool = True

    def read(self, value: object) -> str:
        """Return the value; raise `ValueError` unless it is text with something in it."""
        if not isinstance(value, str) or not value:
            raise ValueError("a name")
        return value


@dataclass(frozen=True)
class Pair:
    """Two different interface channels, from 1."""

    default: None = None
    optional: bool = False

    def read(self, value: object) -> tuple[int, int]:
        """Return both numbers; raise `ValueError` unless they are two different whole numbers."""
        fine = isinstance(value, (list, tuple)) and len(value) == 2 and value[0] != value[1]
        if not fine or not all(isinstance(v, int) and v >= 1 for v in value):  # type: ignore[attr-defined]
            raise ValueError("a list of two different inputs, such as [2, 3]")
        return value[0], value[1]  # type: ignore[index]


Word = Number | OneOf | Switch | Text | Pair
Words = Mapping[str, Word]


def read_kind(given: Mapping[str, Any], *, where: str, kinds: Mapping[str, Words]) -> str:
    """Return the kind a dictionary names.

    Parameters
    ----------
    given
        The free dictionary; its key ``kind`` is looked at.
    where
        Place in the wiring file, opens the message.
    kinds
        Every kind that is known.

    Returns
    -------
    str
        One of the keys of `kinds`.

    Raises
    ------
    UseError
        When ``kind`` is missing or unknown; the sentence lists the kinds.
    """
    kind = given.get("kind")
    if kind is None:
        raise UseError(f"{where}: the key 'kind' is missing; write one of {listed(kinds)}.")
    if not isinstance(kind, str) or kind not in kinds:
        raise UseError(f"{where}: no kind {kind!r} is known; write one of {listed(kinds)}.")
    return kind


def read_words(given: Mapping[str, Any], *, where: str, words: Words) -> dict[str, Any]:
    """Return the values of a dictionary by word, defaults filled in.

    Parameters
    ----------
    given
        The free dictionary; its key ``kind`` is passed over.
    where
        Place in the wiring file, opens the message.
    words
        Every word that may stand there.

    Returns
    -------
    dict[str, Any]
        A value for each of `words`; None for an optional one that was left out.

    Raises
    ------
    UseError
        When a word is unknown, compulsory and missing, or has a value that does not fit.
    """
    unknown = [key for key in given if key != "kind" and key not in words]
    if unknown:
        known = listed(words) if words else "none but 'kind'"
        raise UseError(f"{where}: no word {unknown[0]!r} is known there; the words are {known}.")
    return {name: _value(name, word, given, where) for name, word in words.items()}


def listed(names: Mapping[str, Any]) -> str:
    """Return names as a list to read, in their own order."""
    return ", ".join(repr(name) for name in names)


def _value(name: str, word: Word, given: Mapping[str, Any], where: str) -> Any:
    if name not in given:
        if word.default is None and not word.optional:
            raise UseError(f"{where}: the word {name!r} is missing; add it.")
        return word.default
    try:
        return word.read(given[name])
    except ValueError as wanted:
        raise UseError(f"{where}: {name!r} is {given[name]!r}, write {wanted}.") from None
