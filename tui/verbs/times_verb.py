"""``secondpass times``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.times import times
from tui.cli import DONE
from tui.present.json import show_json
from tui.present.terminal import tell
from tui.present.times import times_lines


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """Print the note values of a tempo."""
    found = times(arguments.bpm)
    if arguments.json:
        show_json(found)
    else:
        for line in times_lines(found):
            tell(line)
    return DONE
