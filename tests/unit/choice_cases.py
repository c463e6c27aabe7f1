"""Choice texts as a listening page writes them, and what mails make of them."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from audio.vocab.choice_text import checksum_of

TOKEN = "7f3k2q4m"  # noqa: S105 - names a hand-over, opens nothing
OTHER_TOKEN = "a" * 8
NAME = "harbour-lights-001"


def choice_text(
    chosen: Mapping[str, Sequence[str]],
    *,
    listener: str = "Ana",
    blind: bool = True,
    words: Mapping[str, str] | None = None,
    name: str = NAME,
    token: str = TOKEN,
) -> str:
    """Write a choice as the page does, with its checksum."""
    lines = [f"for: {name} {token}", f"by: {listener}", f"blind: {'yes' if blind else 'no'}"]
    for part, keys in chosen.items():
        lines.append(f"{part}: {', '.join(keys) or 'nothing'}")
        if words and part in words:
            lines.append(f"words: {words[part]}")
    return sealed("\n".join(lines))


def sealed(body: str) -> str:
    """Return lines with head and checksum."""
    return f"secondpass choice\n{body}\nend of choice {checksum_of(body)}\n"


def quoted(text: str, mark: str = "> ") -> str:
    """Quote a text as an answer does."""
    return "".join(f"{mark}{line}\n" for line in text.splitlines())


def wrapped(text: str, columns: int = 72) -> str:
    """Wrap lines at their spaces as a mail does."""
    lines = (
        textwrap.wrap(line, columns, break_long_words=False, break_on_hyphens=False) or [""]
        for line in text.splitlines()
    )
    return "".join(f"{one}\n" for line in lines for one in line)


def smart(text: str) -> str:
    """Turn quotation marks as a mail does that means well."""
    return text.replace(' "', " “").replace('"', "”").replace("'", "’").replace("...", "…")


def spaced(text: str) -> str:
    """Put non-breaking spaces in, and double them."""
    return text.replace(" ", "\N{NO-BREAK SPACE} ")
