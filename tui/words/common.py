"""What the words of all verbs share."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, Protocol

from audio.vocab.characters import is_hidden
from tui.parsing import Manual


class Verbs(Protocol):
    """Where a verb's parser is added: what `add_subparsers` returns has no public type."""

    def add_parser(self, name: str, **settings: Any) -> argparse.ArgumentParser:
        """Add one verb."""


def verb(verbs: Verbs, name: str, short: str, long: str, examples: str) -> argparse.ArgumentParser:
    """Add a verb's parser: its line in the list, what it does, examples."""
    return verbs.add_parser(
        name,
        help=short,
        description=long,
        epilog=examples,
        formatter_class=Manual,
        allow_abbrev=False,
    )


def json_flag(parser: argparse.ArgumentParser) -> None:
    """Let a verb print one JSON object."""
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object and nothing else"
    )


def as_it_is_flag(parser: argparse.ArgumentParser) -> None:
    """Let a verb send a DI that was checked and is not ready."""
    parser.add_argument(
        "--as-it-is",
        action="store_true",
        help="send a DI that a check found not ready; said once, it is not asked again",
    )


def session_folder(parser: argparse.ArgumentParser) -> None:
    """Let a verb be told which session."""
    parser.add_argument("folder", type=path, metavar="DIR", help="the session")


def path(text: str) -> Path:
    """Return a path as it was typed."""
    if not text:
        raise argparse.ArgumentTypeError("the path is empty; name a file or folder")
    if any(is_hidden(c) for c in text):
        raise argparse.ArgumentTypeError(f"the path {text!r} has a hidden character; rename it")
    return Path(text)


def channel(text: str) -> int:
    """Return a channel, from 1."""
    if not (text.isascii() and text.isdigit() and int(text)):
        raise argparse.ArgumentTypeError(f"{text!r} is no channel; channels count from 1")
    return int(text)


def tempo(text: str) -> float:
    """Return quarter notes a minute."""
    try:
        return float(text)
    except ValueError:
        way_out = "write quarter notes a minute, such as 96 or 96.5"
        raise argparse.ArgumentTypeError(f"{text!r} is no tempo; {way_out}") from None
