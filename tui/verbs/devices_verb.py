"""``secondpass devices``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.devices import list_devices
from tui.cli import DONE
from tui.present.json import show_json
from tui.present.results import tell_devices
from tui.present.terminal import say

NOTHING_THERE = 3


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """List what the system offers."""
    devices = list_devices()
    if arguments.json:
        show_json(devices)
    else:
        tell_devices(devices)
    if devices.reason:
        say(f"secondpass: {devices.reason}")
    return NOTHING_THERE if devices.reason else DONE
