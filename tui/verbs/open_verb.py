"""``secondpass open``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.runner import Runner
from tui.cli import DONE
from tui.locations import settings_yaml
from tui.present.terminal import need_screen
from tui.settings import read_settings


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Show the session; what keeps it from being opened is said before the screen is there."""
    need_screen("open", "without one, use secondpass pass DIR --part P --chain C")
    settings = read_settings(settings_yaml())
    runner = Runner(arguments.folder, program="secondpass open")
    from tui.show import show  # noqa: PLC0415 - half a second that a wrong folder need not wait for

    show(lambda: runner, settings=settings, end=stop)
    return DONE
