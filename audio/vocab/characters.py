"""Characters nobody sees: they have no place in a name, a path or a file people write."""

from __future__ import annotations

import unicodedata

LONGEST_SHOWN = 60
"""Characters of a key, name or value that a message repeats."""

_BLANK = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2800\u3164\uffa0")
"""Letters and marks that show nothing (Unicode: Default_Ignorable_Code_Point, and the empty braille
pattern); the variation selectors, which give a sign another look, are not among them."""


def is_hidden(character: str) -> bool:
    """Return whether a character is a control, line-break, direction, blank or lone-surrogate code."""
    return character in _BLANK or unicodedata.category(character) in {"Cc", "Cf", "Cs", "Zl", "Zp"}


def shown(text: str) -> str:
    """Return text from outside as a message repeats it in quotes: cut where it is long."""
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."


def visible(text: str, *, longest: int) -> str:
    """Return text from outside for a message: hidden characters as escapes, cut where it is too long."""
    seen = escaped(text[: longest + 1])
    return seen if len(seen) <= longest else f"{seen[: longest - 1]}…"


def escaped(text: str, *, but: str = "") -> str:
    """Return text with its hidden characters as escapes, all but those in `but`."""
    if text.isprintable():
        return text
    return "".join(f"\\x{ord(c):02x}" if is_hidden(c) and c not in but else c for c in text)
