"""``secondpass devices``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.devices import list_devices
from tui.cli import DONE
from tui.present.json import show_json
from tui.present.plain import say, tell
from tui.present.results import device_lines

NOTHING_THERE = 3


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """List what the system offers."""
    devices = list_devices()
    if arguments.json:
        show_json(devices)
    else:
        for line in device_lines(devices):
            tell(line)
    if devices.reason:
        say(f"secondpass: {devices.reason}")
    return NOTHING_THERE if devices.reason else DONE
