"""Reading fields out of a YAML mapping: every mistake noted with its line and a guess at what was meant."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from typing import TypeVar

from audio.vocab.characters import is_hidden, shown
from audio.vocab.strict_yaml import Node, Problems

D = TypeVar("D")

_NUMBER_WITH_UNIT = re.compile(
    r"\s*([-+]?[0-9][0-9_]*(?:[.,][0-9]+)?)\s*(k|khz|hz|db|dbfs|s|sec|cm|bit|frames)?\s*",
    re.IGNORECASE,
)


class Form:
    """One mapping while it is read.

    Each getter returns the field's value, or `default` where the key is missing or its value wrong; what
    is wrong is in the problems by then.

    Parameters
    ----------
    node
        The value that should be a mapping.
    problems
        Takes what is wrong.
    what
        What the mapping is, for messages, such as ``click``.
    keys
        All keys it may have.
    example
        How it is written, for who wrote something else than a mapping.
    hints
        For keys people may try that do not exist here: what to write instead.
    """

    def __init__(
        self,
        node: Node,
        *,
        problems: Problems,
        what: str,
        keys: Sequence[str],
        example: str,
        hints: dict[str, str] | None = None,
    ) -> None:
        self.node = node
        self.line = node.line
        self.problems = problems
        self.what = what
        self._entries: dict[str, Node] = {}
        if isinstance(node.value, dict):
            self._entries = node.value
            self._refuse_unknown(keys, hints or {})
        else:
            problems.add(node.line, f"{what or 'the file'} is {_shown(node)}; write {example}")

    @property
    def filled(self) -> bool:
        """Whether the value was a mapping at all."""
        return isinstance(self.node.value, dict)

    def has(self, key: str) -> bool:
        """Return whether the key was given with a value."""
        return key in self._entries and self._entries[key].value is not None

    def get(self, key: str, *, required: bool = False, way_out: str = "") -> Node | None:
        """Return a field as it is, None where it was left out."""
        if self.has(key):
            return self._entries[key]
        if required and self.filled:
            self.problems.add(self.line_of(key), f"{self._named(key)} is missing; {way_out}")
        return None

    def line_of(self, key: str) -> int:
        """Return the line of a key, or of the mapping where the key was left out."""
        return self.node.key_lines.get(key, self.line)

    def fail(self, key: str, text: str) -> None:
        """Note that a field is wrong."""
        self.problems.add(self.line_of(key), text)

    def text(
        self,
        key: str,
        *,
        default: D,
        required: bool = False,
        longest: int = 200,
        example: str = "…",
    ) -> str | D:
        """Return a field that is one line of text, at most `longest` characters."""
        node = self.get(key, required=required, way_out=f"write {key}: {example}")
        if node is None:
            return default
        value = node.value
        if not isinstance(value, str):
            way_out = (
                "put it in quotes" if isinstance(value, (int, float)) else f"write {key}: {example}"
            )
            self.fail(key, f"{self._named(key)} is {_shown(node)}, not text; {way_out}")
        elif not value.strip():
            self.fail(key, f"{self._named(key)} is empty; write {key}: {example}")
        elif any(is_hidden(c) for c in value):
            self.fail(key, f"{self._named(key)} has a hidden character in it; type it again")
        elif len(value) > longest:
            self.fail(key, f"{self._named(key)} is longer than {longest} characters; shorten it")
        else:
            return value
        return default

    def whole(
        self, key: str, *, low: int, high: int, default: D, required: bool = False, note: str = ""
    ) -> int | D:
        """Return a field that is a whole number from `low` to `high`."""
        node = self.get(key, required=required, way_out=f"write a whole number, {key}: {low}")
        if node is None:
            return default
        what, line = self._named(key), self.line_of(key)
        return self._whole(node, line, what, low=low, high=high, default=default, note=note)

    def wholes(
        self, key: str, *, low: int, high: int, note: str = "", example: str
    ) -> tuple[int, ...]:
        """Return a required field that is a list of whole numbers from `low` to `high`."""
        nodes = self.items(key, required=True, example=example)
        what = self._named(key)
        numbers = [
            self._whole(node, node.line, what, low=low, high=high, default=None, note=note)
            for node in nodes
        ]
        return tuple(number for number in numbers if number is not None)

    def number(
        self, key: str, *, low: float, high: float, default: D, required: bool = False
    ) -> float | D:
        """Return a field that is a number from `low` to `high`."""
        node = self.get(key, required=required, way_out=f"write a number, {key}: {low:g}")
        if node is None:
            return default
        value = node.value
        if isinstance(value, (int, float)) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        guess = number_meant(value)
        if guess is not None and not low <= guess <= high:
            guess = -guess if low <= -guess <= high else None
        meant = "" if guess is None else f"{guess:g}"
        self._wrong(key, node, f"a number from {low:g} to {high:g}", meant)
        return default

    def choice(self, key: str, options: Sequence[D], *, default: D, required: bool = False) -> D:
        """Return a field that is one of some words or numbers."""
        want = "one of " + ", ".join(str(option) for option in options)
        node = self.get(key, required=required, way_out=f"write {want}")
        if node is None:
            return default
        for option in options:
            if node.value == option and type(node.value) is type(option):
                return option
        self._wrong(key, node, want, option_meant(node.value, options))
        return default

    def flag(self, key: str, *, default: bool) -> bool:
        """Return a field that is true or false."""
        node = self.get(key)
        if node is None:
            return default
        if isinstance(node.value, bool):
            return node.value
        guess = {"yes": "true", "on": "true", "no": "false", "off": "false"}
        said = str(node.value).lower()
        self._wrong(
            key, node, "true or false", guess.get(said, said if said in guess.values() else "")
        )
        return default

    def items(self, key: str, *, required: bool = False, example: str) -> tuple[Node, ...]:
        """Return the items of a field that is a list."""
        node = self.get(key, required=required, way_out=f"write {key}: {example}")
        if node is None:
            return ()
        if isinstance(node.value, tuple):
            return node.value
        self.fail(key, f"{self._named(key)} is {_shown(node)}, not a list; write {key}: {example}")
        return ()

    def section(self, key: str, *, keys: Sequence[str], example: str) -> Form | None:
        """Return a field that is itself a mapping, None where it was left out."""
        node = self.get(key)
        if node is None:
            return None
        what = self._named(key)
        return Form(node, problems=self.problems, what=what, keys=keys, example=f"{key}: {example}")

    def _named(self, key: str) -> str:
        return f"{self.what} {key}".strip()

    def _whole(
        self, node: Node, line: int, what: str, *, low: int, high: int, default: D, note: str
    ) -> int | D:
        value = node.value
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        guess = number_meant(value)
        fits = guess is not None and low <= guess <= high and guess.is_integer()
        meant = f" (did you mean {guess:.0f}?)" if fits else ""
        want = f"a whole number from {low} to {high}{note}"
        self.problems.add(line, f"{what} is {_shown(node)}; write {want}{meant}")
        return default

    def _wrong(self, key: str, node: Node, want: str, guess: str) -> None:
        meant = f" (did you mean {guess}?)" if guess else ""
        self.fail(key, f"{self._named(key)} is {_shown(node)}; write {want}{meant}")

    def _refuse_unknown(self, keys: Sequence[str], hints: dict[str, str]) -> None:
        for key in self._entries:
            if key in keys:
                continue
            near = difflib.get_close_matches(key.lower(), keys, n=1, cutoff=0.5)
            way_out = f"did you mean {near[0]}?" if near else f"known here: {', '.join(keys)}"
            self.fail(key, f"unknown key {self._named(shown(key))!r}; {hints.get(key, way_out)}")


def number_meant(value: object) -> float | None:
    """Return the number that a value was probably meant to be, such as 48 for ``"48 kHz"``, or None."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return None
    if not isinstance(value, str):
        return float(value)
    match = _NUMBER_WITH_UNIT.fullmatch(value.replace("\N{MINUS SIGN}", "-"))
    if match is None:
        return None
    digits = re.sub(r",(?=[0-9]{3}$)|_", "", match[1]).replace(",", ".")
    return float(digits)


def option_meant(value: object, options: Sequence[object]) -> str:
    """Return the option probably meant: near in spelling, within 5 %, or a thousand times the number."""
    number = number_meant(value)
    if number is not None and not isinstance(value, bool):
        for option in (o for o in options if isinstance(o, int)):
            if any(abs(number * k / option - 1) < 0.05 for k in (1, 1000)):
                return str(option)
    words = [str(o) for o in options]
    return next(iter(difflib.get_close_matches(str(value).lower(), words, n=1)), "")


def _shown(node: Node) -> str:
    match node.value:
        case None:
            return "empty"
        case dict():
            return "a mapping"
        case tuple():
            return "a list"
        case bool():
            return "true" if node.value else "false"
        case str():
            return repr(shown(node.value))
        case _:
            return str(node.value)
