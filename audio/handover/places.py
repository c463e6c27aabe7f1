"""Where everything lies in a hand-over's folder; no other module joins these names."""

from __future__ import annotations

from pathlib import Path

SOUNDS = "files"
"""Folder of the sound files."""

SHEET = "recall.html"
PAGE = "listen"
TABLE = "list.csv"
RECORD = "list.json"
LETTER = "START-HERE.txt"
CHECKSUMS = "SHA256SUMS"

UNFINISHED = ".unfinished"
"""Folder that is there until everything else is; with what was decided and what is whole so far."""


PART = ".part"
"""Ending of a sound file that is not whole yet."""


def part_of(path: Path) -> Path:
    """Return under which name a sound file is written until it is whole."""
    return path.with_name(path.name + PART)


def unfinished(folder: Path) -> Path:
    """Return the folder that is there as long as a hand-over is not whole."""
    return folder / UNFINISHED


def order_json(folder: Path) -> Path:
    """Return what was decided before the first file."""
    return unfinished(folder) / "order.json"


def progress_jsonl(folder: Path) -> Path:
    """Return the list of files that are whole, a line each."""
    return unfinished(folder) / "progress.jsonl"


def lock(folder: Path) -> Path:
    """Return the lock of whoever writes the hand-over."""
    return unfinished(folder) / "lock"


def sheet(folder: Path) -> Path:
    """Return the recall sheet."""
    return folder / SHEET


def page(folder: Path) -> Path:
    """Return the folder of the listening page."""
    return folder / PAGE
