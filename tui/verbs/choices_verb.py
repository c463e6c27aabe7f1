"""``secondpass choices``."""

from __future__ import annotations

import argparse
import os
import sys
import threading
from pathlib import Path

from audio.jobs.choices import choices
from audio.vocab.choice_text import MOST_BYTES
from tui.cli import DONE, FAILED_CHECK, INTERRUPTED
from tui.present.choice_words import tell_choices
from tui.present.json import show_json

LOOK_S = 0.1

PIPED = Path("-")


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Note what a file brings, and tell who chose what."""
    source: Path | bytes | None = arguments.file
    if source == PIPED:
        source = _piped(stop)
        if source is None:
            return INTERRUPTED
    told = choices(source, folder=arguments.folder)
    if arguments.json:
        show_json(told)
    else:
        tell_choices(told)
    return FAILED_CHECK if told.refused else DONE


def _piped(stop: threading.Event) -> bytes | None:
    """Return what comes by standard input, up to where it is too much; None on Ctrl+C."""
    pieces: list[bytes] = []
    done = threading.Event()
    threading.Thread(target=_read, args=(pieces, done), name="piped", daemon=True).start()
    while not done.wait(LOOK_S):
        if stop.is_set():
            return None
    return b"".join(pieces)


def _read(pieces: list[bytes], done: threading.Event) -> None:
    size = 0
    try:
        while sys.stdin is not None and size <= MOST_BYTES:
            piece = os.read(sys.stdin.fileno(), 1 << 16)
            if not piece:
                break
            pieces.append(piece)
            size += len(piece)
    finally:
        done.set()
