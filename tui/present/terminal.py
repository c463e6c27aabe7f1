"""Where text leaves the program: safe for a terminal, and never the end of a pass when nobody reads."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from typing import IO, AnyStr

from audio.vocab.errors import UseError

UNSEEN_WIDTH = 100
"""Columns of text that no terminal shows."""


def put(stream: IO[AnyStr] | None, text: AnyStr) -> None:
    """Write at once; where the reader has left, everything from then on is written to nowhere."""
    if stream is None:  # started without one
        return
    try:
        stream.write(text)
        stream.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def clean(text: str) -> str:
    """Return text a terminal cannot be steered by: what is not printable becomes a visible escape."""
    return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text)


def is_terminal(stream: IO[str] | None) -> bool:
    """Return whether somebody looks at a stream."""
    return stream is not None and stream.isatty()


def width(stream: IO[str] | None) -> int:
    """Return the columns there are."""
    return shutil.get_terminal_size().columns if is_terminal(stream) else UNSEEN_WIDTH


def wrapped(text: str, *, columns: int, indent: int = 0) -> list[str]:
    """Return text in lines of at most `columns` characters, words and paths whole, all indented alike."""
    return textwrap.wrap(
        clean(text),
        columns,
        initial_indent=" " * indent,
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def say(text: str) -> None:
    """Print a message on standard error: one line, unless a terminal needs several."""
    lines = [clean(text)]
    if is_terminal(sys.stderr):
        lines = wrapped(text, columns=width(sys.stderr))
    put(sys.stderr, "".join(f"{line}\n" for line in lines))


def tell(text: str) -> None:
    """Print a line of results on standard output."""
    put(sys.stdout, f"{clean(text)}\n")


def shows_screens() -> bool:
    """Return whether somebody looks at a terminal on which more than lines can be shown."""
    return is_terminal(sys.stdin) and is_terminal(sys.stdout) and not _prints_lines_only()


def _prints_lines_only() -> bool:
    return os.environ.get("TERM") in ("dumb", "unknown")


def need_screen(verb: str, way_out: str) -> None:
    """Raise `UseError` where there is no terminal to show a screen on."""
    if shows_screens():
        return
    why = f" and TERM={os.environ['TERM']} has none" if _prints_lines_only() else ""
    raise UseError(f"{verb} needs a terminal with a screen{why}; {way_out}")
