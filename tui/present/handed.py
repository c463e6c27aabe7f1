"""A hand-over in words: how far it is, and what it holds."""

from __future__ import annotations

import sys
from pathlib import Path

from audio.vocab.handover import HandedOver, HandoverNow
from tui.present.moving import MovingLine
from tui.present.results import INDENT
from tui.present.terminal import tell, width, wrapped

MEGABYTE = 1_000_000


class Progress:
    """Shows how far a hand-over is, in a line that moves."""

    def __init__(self) -> None:
        self._line = MovingLine()

    def show(self, now: HandoverNow) -> None:
        """Write what comes next."""
        self._line.show(f"  {how_far(now)}  {now.doing}")

    def end(self) -> None:
        """Take the line away."""
        self._line.end()


def how_far(now: HandoverNow) -> str:
    """Return how far it is, in files and megabytes."""
    return f"{now.files} of {now.of_files} files, {megabytes(now.size)} of {megabytes(now.of_size)}"


def megabytes(size: int) -> str:
    """Return a size in words: ``12.3 MB``, from 100 on without the tenth."""
    amount = size / MEGABYTE
    return f"{amount:.0f} MB" if amount >= 100.0 else f"{amount:.1f} MB"


def sounds_in_words(done: HandedOver) -> str:
    """Return what was handed over, in one line."""
    sounds = f"{done.sounds} sound{'' if done.sounds == 1 else 's'}"
    files = f"{done.files} file{'' if done.files == 1 else 's'}"
    return f"{sounds} in {files}, {megabytes(done.size)} in all"


def tell_handed(done: HandedOver) -> None:
    """Print where it lies and what could not be handed over."""
    begun = ", gone on with" if done.resumed else ""
    tell(f"handed over{begun}: {sounds_in_words(done)}")
    for text in done.left_out:
        for line in wrapped(f"left out: {text}", columns=width(sys.stdout), indent=INDENT):
            tell(line)
    tell(str(Path(done.folder)))
