"""YAML as people write it here: a strict part of the language, every line known.

Read are mappings, lists, text, ``null``, ``true``, ``false`` and decimal numbers; everything else that
looks like a number or a switch (``10:30``, ``off``, ``0123``, ``1_000``, ``.inf``) stays the text that
was written. Refused are keys given twice, anchors and aliases, tags, a second document and control
characters. What is wrong is collected, each with its line, so that one look at the file mends it.
"""

from __future__ import annotations

import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

import yaml

from audio.vocab.characters import is_hidden, shown
from audio.vocab.errors import UseError

LARGEST_BYTES = 500_000
"""A file people write is smaller; a larger one is something else."""

DEEPEST = 32
"""Levels a file may be nested; more is a mistake or an attack."""

MOST_VALUES = 15_000
"""Values in a file, keys included: a session of a thousand parts has fewer, and reading more takes long."""

MOST_PROBLEMS = 30
"""Mistakes that are told at once: more are one mistake made everywhere, or another kind of file."""

_INT = re.compile(r"[-+]?(0|[1-9][0-9]{0,15})")
_FLOAT = re.compile(
    r"[-+]?(0|[1-9][0-9]{0,15})(\.[0-9]{0,30})?([eE][-+]?[0-9]{1,3})?|[-+]?\.[0-9]{1,30}"
)
_WORDS: dict[str, bool | None] = {"null": None, "~": None, "": None, "true": True, "false": False}
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]")

_SYNTAX = (
    ("'\\t'", "a tab stands where only spaces may; indent with spaces"),
    ("mapping values are not allowed", "a colon stands where none can; indent alike or use quotes"),
    ("could not find expected ':'", "a key without its colon; write key: value"),
    ("expected <block end>", "the indentation does not fit the lines above; indent alike"),
    (
        "cannot start any token",
        "a sign that YAML keeps for itself begins a value; put it in quotes",
    ),
    ("unknown escape", "a backslash in double quotes; use single quotes"),
    ("nested too deep", "nested too deep; write it flatter"),
    ("out of range", "a number after a backslash or % is too large; write the character itself"),
)
_NEVER_CLOSED = (
    ("expected ',' or", "a bracket opened here is not closed, or a comma is missing; close it"),
    ("unexpected end of stream", "a quote opened here is never closed; close it"),
)

Scalar = None | bool | int | float | str


@dataclass(frozen=True, slots=True)
class Node:
    """One value of a file, with its place in the text."""

    value: Scalar | tuple[Node, ...] | dict[str, Node]
    """A scalar, the items of a list, or a mapping in the order written."""
    line: int
    """Line of its first character, from 1."""
    column: int
    """Column of its first character, from 0; for a block list, that of its dashes."""
    start: int
    """Index of its first character in the text."""
    end: int
    """Index after its last character; meaningless for a list or mapping in block style."""
    flow: bool = False
    """True for a list or mapping written in brackets."""
    key_lines: dict[str, int] = field(default_factory=dict)
    """Line of every key of a mapping."""

    def plain(self) -> Any:
        """Return the value without places: scalars, lists and dicts."""
        if isinstance(self.value, dict):
            return {key: node.plain() for key, node in self.value.items()}
        if isinstance(self.value, tuple):
            return [node.plain() for node in self.value]
        return self.value


class Problems:
    """What is wrong with one file, collected to be said at once."""

    def __init__(self, where: str) -> None:
        self.where = where
        self._found: dict[tuple[int, str], None] = {}

    def __bool__(self) -> bool:
        return bool(self._found)

    def add(self, line: int, text: str) -> None:
        """Note that line `line` (from 1) is wrong; `text` says what and the way out.

        What is one too many is not noted: everything so far is raised as one `UseError`.
        """
        self._found[line, text] = None
        if len(self._found) >= MOST_PROBLEMS:
            raise self._error()

    def check(self) -> None:
        """Raise one `UseError` with everything found, a line each in the file's order, if anything was."""
        if self._found:
            raise self._error()

    def stop(self, line: int, text: str) -> NoReturn:
        """Note what keeps the rest from being read, and raise everything found as one `UseError`."""
        self.add(line, text)
        raise self._error()

    def _error(self) -> UseError:
        found = sorted(self._found, key=lambda one: one[0])  # each once, as they were found
        return UseError("\n".join(f"{self.where}, line {line}: {text}" for line, text in found))


def read_text(path: Path) -> str:
    """Return the text of a file people write, line endings as they are.

    Parameters
    ----------
    path
        The file; UTF-8, at most `LARGEST_BYTES`.

    Returns
    -------
    str
        Its text.

    Raises
    ------
    UseError
        It cannot be read, is too large, or is no UTF-8 text.
    """
    try:
        if stat.S_ISFIFO(mode := path.stat().st_mode) or stat.S_ISCHR(mode):
            raise UseError(f"{path}: this is a device or a pipe; name a file")
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise UseError(f"{path}: there is no such file; check the path") from None
    except IsADirectoryError:
        raise UseError(f"{path}: this is a folder; name the file in it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise UseError(
            f"{path}: cannot be read ({reason}); check the path and its rights"
        ) from None
    if len(data) > LARGEST_BYTES:
        raise UseError(f"{path}: larger than a YAML file here can be (500 kB); name the right file")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UseError(f"{path}, line {line}: this is no UTF-8 text; save it as UTF-8") from None


def load(text: str, *, problems: Problems) -> Node:
    """Read one document; `UseError` with everything found so far if the text is no YAML at all.

    Parameters
    ----------
    text
        The whole text.
    problems
        Takes what is wrong but does not keep the rest from being read, such as a key given twice.

    Returns
    -------
    Node
        The document; null where the text is empty.
    """
    for number, line in enumerate(text.split("\n"), start=1):
        for character in dict.fromkeys(_CONTROL.findall(line)):
            problems.add(number, f"control character U+{ord(character):04X}; delete it")
    problems.check()
    try:
        return _Composer(text, problems).document()
    except yaml.MarkedYAMLError as error:
        problems.stop(*_syntax(error))
    except yaml.YAMLError as error:
        problems.stop(1, f"not readable as YAML ({error}); save it as plain UTF-8 text")


def _syntax(error: yaml.MarkedYAMLError) -> tuple[int, str]:
    """Return the line of a syntax error and what it is in plain words."""
    problem = str(error.problem)
    at = error.problem_mark or error.context_mark
    text = next((words for part, words in _SYNTAX if part in problem), "")
    for part, words in _NEVER_CLOSED:
        if part in problem:
            at, text = error.context_mark, words
    line = at.line + 1 if at else 1
    return line, text or f"not YAML ({problem}); check quotes, brackets and indentation"


class _Loader(yaml.SafeLoader):
    """The library's scanner, which takes time quadratic in the depth of brackets, kept shallow."""

    def fetch_flow_collection_start(self, TokenClass: type[yaml.Token]) -> None:  # noqa: N803 - theirs
        if self.flow_level > DEEPEST:
            raise yaml.MarkedYAMLError(problem="nested too deep", problem_mark=self.get_mark())
        super().fetch_flow_collection_start(TokenClass)

    def fetch_more_tokens(self) -> None:
        try:
            super().fetch_more_tokens()
        except (ValueError, OverflowError) as error:  # of numbers it takes as they come
            problem, mark = "a number out of range", self.get_mark()
            raise yaml.MarkedYAMLError(problem=problem, problem_mark=mark) from error


class _Composer:
    """Turns the parser's events into nodes."""

    def __init__(self, text: str, problems: Problems) -> None:
        self._events: Iterator[yaml.Event] = iter(yaml.parse(text, Loader=_Loader))
        self._problems = problems
        self._values = 0

    def document(self) -> Node:
        root = Node(value=None, line=1, column=0, start=0, end=0)
        documents = 0
        for event in self._events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents == 2:
                    self._problems.add(
                        _line(event), "a second document begins (---); keep one in a file"
                    )
                    return root
                root = self._node(next(self._events), depth=0)
        return root

    def _node(self, event: yaml.Event, *, depth: int) -> Node:
        if depth > DEEPEST:
            self._problems.stop(_line(event), "nested too deep; write it flatter")
        self._values += 1
        if self._values > MOST_VALUES:
            text = f"over {MOST_VALUES} values, more than a file here can have; name the right file"
            self._problems.stop(_line(event), text)
        self._refuse_references(event)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._sequence(event, depth=depth)
        if isinstance(event, yaml.MappingStartEvent):
            return self._mapping(event, depth=depth)
        value = self._scalar(event) if isinstance(event, yaml.ScalarEvent) else None
        return _placed(event, event, value)

    def _refuse_references(self, event: yaml.Event) -> None:
        line = _line(event)
        if isinstance(event, yaml.AliasEvent):
            self._problems.add(line, f"alias *{shown(str(event.anchor))}; write the value out")
        elif getattr(event, "anchor", None) is not None:
            self._problems.add(line, "an anchor (&); write the value where it is needed")
        if getattr(event, "tag", None) is not None:
            self._problems.add(line, "a tag (!); leave it out")

    def _sequence(self, start: yaml.SequenceStartEvent, *, depth: int) -> Node:
        items: list[Node] = []
        event = next(self._events)
        while not isinstance(event, yaml.SequenceEndEvent):
            items.append(self._node(event, depth=depth + 1))
            event = next(self._events)
        return _placed(start, event, tuple(items), flow=bool(start.flow_style))

    def _mapping(self, start: yaml.MappingStartEvent, *, depth: int) -> Node:
        entries: dict[str, Node] = {}
        lines: dict[str, int] = {}
        event = next(self._events)
        while not isinstance(event, yaml.MappingEndEvent):
            key = self._key(event, depth=depth)
            value = self._node(next(self._events), depth=depth + 1)
            if key in entries:
                text = (
                    f"{shown(key)!r} is given twice, first in line {lines[key]}; keep one of them"
                )
                self._problems.add(_line(event), text)
            else:
                entries[key], lines[key] = value, _line(event)
            event = next(self._events)
        return _placed(start, event, entries, flow=bool(start.flow_style), key_lines=lines)

    def _key(self, event: yaml.Event, *, depth: int) -> str:
        node = self._node(event, depth=depth + 1)
        if not isinstance(event, yaml.ScalarEvent) or not event.value:
            self._problems.add(node.line, "a key must be plain text; write key: value")
            return f"line {node.line}"
        if any(is_hidden(c) for c in event.value):
            self._problems.add(node.line, "a hidden character in a key; type the key again")
        return str(event.value)

    def _scalar(self, event: yaml.ScalarEvent) -> Scalar:
        text: str = event.value
        line = _line(event)
        for character in _CONTROL.findall(text):
            self._problems.add(line, f"control character U+{ord(character):04X}; leave it out")
        if event.style:  # quoted, or a block of text
            return text
        if text in _WORDS:
            return _WORDS[text]
        if _INT.fullmatch(text):
            return int(text)
        if _FLOAT.fullmatch(text):
            number = float(text)
            if number in {float("inf"), float("-inf")}:
                self._problems.add(line, f"{text} is too large a number; write a smaller one")
            return number
        return text


def _placed(
    start: yaml.Event,
    end: yaml.Event,
    value: Scalar | tuple[Node, ...] | dict[str, Node],
    *,
    flow: bool = False,
    key_lines: dict[str, int] | None = None,
) -> Node:
    first, last = start.start_mark, end.end_mark
    return Node(
        value=value,
        line=_line(start),
        column=first.column if first else 0,
        start=first.index if first else 0,
        end=last.index if last else 0,
        flow=flow,
        key_lines=key_lines or {},
    )


def _line(event: yaml.Event) -> int:
    return event.start_mark.line + 1 if event.start_mark else 1
