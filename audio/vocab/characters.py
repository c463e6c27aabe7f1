"""Characters nobody sees: they have no place in a name, a path or a file people write."""

from __future__ import annotations

import unicodedata


def is_hidden(character: str) -> bool:
    """Return whether a character is a control, line-break, direction or lone-surrogate code."""
    return unicodedata.category(character) in {"Cc", "Cf", "Cs", "Zl", "Zp"}
