"""One JSON object on standard output."""

from __future__ import annotations

import sys

import msgspec

from audio.vocab.characters import is_hidden
from tui.present.terminal import put


def show_json(value: object) -> None:
    """Print a value as one indented JSON object and a newline, in UTF-8 whatever the locale.

    Hidden characters stand as JSON's own escapes: a reader gets them back, a terminal does not obey them.
    """
    text = msgspec.json.format(msgspec.json.encode(value), indent=2).decode()
    put(sys.stdout.buffer if sys.stdout else None, f"{_escaped(text)}\n".encode())


def _escaped(text: str) -> str:
    return "".join(_escape(c) if is_hidden(c) and c != "\n" else c for c in text)


def _escape(character: str) -> str:
    units = character.encode("utf-16-be").hex()
    return "".join(f"\\u{units[at : at + 4]}" for at in range(0, len(units), 4))
