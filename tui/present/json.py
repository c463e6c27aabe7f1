"""One JSON object on standard output."""

from __future__ import annotations

import sys

import msgspec


def show_json(value: object) -> None:
    """Print a value as one indented JSON object and a newline."""
    text = msgspec.json.format(msgspec.json.encode(value), indent=2)
    sys.stdout.write(text.decode() + "\n")
    sys.stdout.flush()
