"""``secondpass delay``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.alone import delay_of
from audio.jobs.deck import StoppedError
from tui.cli import DONE, FAILED_CHECK, INTERRUPTED
from tui.present.json import show_json
from tui.present.plain import Plain
from tui.present.results import tell_delay


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Send the click and tell the round trip."""
    try:
        delay = delay_of(arguments.wiring, Plain(stop))
    except StoppedError:
        return INTERRUPTED
    if arguments.json:
        show_json(delay)
    else:
        tell_delay(delay)
    return DONE if delay.delay_frames is not None else FAILED_CHECK
