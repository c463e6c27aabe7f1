"""Names of the files that are handed over, from a pattern; nothing in a value can leave its place."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from audio.vocab.characters import is_hidden, shown
from audio.vocab.errors import UseError
from audio.vocab.handover import NAMES
from audio.vocab.names import name_problem, shortened, slug, twin_key

FIELDS = ("session", "song", "part", "number", "chain", "called", "microphone")
"""What a pattern may name."""

TELLING = ("part", "number", "microphone")
"""What tells any two files of a session apart."""

LONGEST_PATTERN = 200
"""Characters."""

LONGEST_PIECE_BYTES = 160
"""UTF-8 bytes of a file's or folder's name without its ending: common file systems end at 255."""

_LONGEST_VALUE_BYTES = 80

_LONGEST_DEVICE = 8
"""Characters of the longest word that a system keeps for a device."""

_FIELD = re.compile(r"\{([^{}]*)\}")


def pattern_problem(pattern: str) -> str | None:
    """Return why files cannot be named so, with the way out; None when they can."""
    strange = next((one for one in _FIELD.findall(pattern) if one not in FIELDS), None)
    rest = _FIELD.sub("x", pattern)
    pieces = rest.split("/")
    faults = (
        (not pattern.strip(), f"is empty; write one such as {NAMES}"),
        (
            len(pattern) > LONGEST_PATTERN,
            f"is longer than {LONGEST_PATTERN} characters; shorten it",
        ),
        (any(map(is_hidden, pattern)), "has a hidden character in it; type it again"),
        (
            strange is not None,
            f"names {{{shown(strange or '')}}}, which is nothing; there are: {', '.join(FIELDS)}",
        ),
        ("{" in rest or "}" in rest, "has a brace without its partner; write fields as {part}"),
        ("" in pieces, "has a slash at its end, or two in a row; write {song}/{part}"),
    )
    fault = next((text for wrong, text in faults if wrong), None)
    if fault is not None:
        return f"the pattern of the names {fault}"
    return next((problem for one in pieces if (problem := name_problem(one))), None)


def file_name(pattern: str, values: Mapping[str, str]) -> str:
    """Return a file's name, folders before it, without its ending.

    Parameters
    ----------
    pattern
        One without a `pattern_problem`.
    values
        Of every field it names; each becomes small letters, digits and dashes, and cannot make a folder.

    Returns
    -------
    str
        With forward slashes; each piece a name that every file system takes.
    """
    filled = _FIELD.sub(lambda found: _value(values[found[1]]), pattern)
    return "/".join(_piece(one) for one in filled.split("/"))


def plain_name(*words: str) -> str:
    """Return a name that needs no pattern: words in small letters, underscores between them."""
    return _piece("_".join(_value(one) for one in words))


def told_apart(names: Iterable[str], *, pattern: str) -> tuple[str, ...]:
    """Return names in order, those that some disk would take for one with a number behind them.

    Parameters
    ----------
    names
        Without their endings.
    pattern
        What they were made by.

    Returns
    -------
    tuple of str
        As many, all different.

    Raises
    ------
    UseError
        If two are the same because the pattern leaves out what tells files apart: then a number would
        only hide which is which.
    """
    taken: set[str] = set()
    found = []
    for name in names:
        one, again = name, 2
        while twin_key(one) in taken:
            _refuse_untelling(name, pattern)
            one, again = f"{name}-{again}", again + 1
        taken.add(twin_key(one))
        found.append(one)
    return tuple(found)


def _refuse_untelling(name: str, pattern: str) -> None:
    missing = [f"{{{one}}}" for one in TELLING if f"{{{one}}}" not in pattern]
    if missing:
        raise UseError(
            f"the pattern {shown(pattern)!r} names two files {shown(name)!r}; put"
            f" {' and '.join(missing)} into it"
        )


def _value(text: str) -> str:
    return shortened(slug(text), longest_bytes=_LONGEST_VALUE_BYTES)


def _piece(name: str) -> str:
    piece = shortened(name, longest_bytes=LONGEST_PIECE_BYTES)
    kept_for_a_device = len(piece) <= _LONGEST_DEVICE and name_problem(piece) is not None
    return f"{piece}-" if kept_for_a_device else piece
