"""Captures whose writer died, made readable for every program."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from audio.files.wave import DATA_AT
from audio.vocab.errors import SecondpassError
from audio.work.client import Worker


def holds_sound(path: Path) -> bool:
    """Return whether a capture is there and holds anything behind its header."""
    try:
        return path.stat().st_size > DATA_AT
    except FileNotFoundError:
        return False


def make_readable(worker: Worker, paths: Iterable[Path]) -> None:
    """Repair captures that are evidence only: one that cannot be repaired keeps no pass from its verdict.

    Parameters
    ----------
    worker
        Repairs.
    paths
        Files of a pass that nobody writes to any more; those that are not there, or hold no sound, are
        passed over.
    """
    for path in paths:
        if holds_sound(path):
            with suppress(SecondpassError):
                worker.repair(path)
