"""``secondpass blind``."""

from __future__ import annotations

import argparse
import sys
import threading

from audio.jobs.blind import blind_told
from tui.cli import DONE
from tui.present.blind_words import told_lines
from tui.present.json import show_json
from tui.present.terminal import tell, width


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """Tell what blind sittings have come to."""
    told = blind_told(arguments.folder, part=arguments.part, listener=arguments.listener)
    if arguments.json:
        show_json(told)
    else:
        for line in told_lines(told.comparisons, width(sys.stdout)):
            tell(line)
    return DONE
