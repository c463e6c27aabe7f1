"""``secondpass join``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.drop_in_alone import drop_in_alone
from tui.cli import DONE, FAILED_CHECK
from tui.present.json import show_json
from tui.present.plain import Plain
from tui.present.results import tell_variant


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Make the drop-in and tell what is to be said of it."""
    made = drop_in_alone(
        arguments.folder,
        part=arguments.part,
        base=arguments.into,
        section=arguments.section,
        listener=Plain(stop),
    )
    if arguments.json:
        show_json(made)
    else:
        tell_variant(made)
    return FAILED_CHECK if made.verdict == "redo" else DONE
