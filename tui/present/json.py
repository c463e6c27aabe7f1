"""One JSON object on standard output."""

from __future__ import annotations

import sys

import msgspec

from tui.present.terminal import put


def show_json(value: object) -> None:
    """Print a value as one indented JSON object and a newline, in UTF-8 whatever the locale."""
    text = msgspec.json.format(msgspec.json.encode(value), indent=2)
    put(sys.stdout.buffer if sys.stdout else None, text + b"\n")
