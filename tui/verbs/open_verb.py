"""``secondpass open``."""

from __future__ import annotations

import argparse
import threading
from typing import TYPE_CHECKING

from tui.cli import DONE
from tui.locations import settings_yaml
from tui.present.terminal import need_screen
from tui.settings import read_settings
from tui.show import show

if TYPE_CHECKING:
    from audio.jobs.runner import Runner


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Show the session; what keeps it from being opened is said when the terminal is as it was."""
    need_screen("open", "without one, use secondpass pass DIR --part P --chain C")
    settings = read_settings(settings_yaml())

    def bring() -> Runner:
        from audio.jobs.runner import Runner  # noqa: PLC0415 - the first picture need not wait for it

        return Runner(arguments.folder, program="secondpass open")

    show(bring, settings=settings, end=stop)
    return DONE
