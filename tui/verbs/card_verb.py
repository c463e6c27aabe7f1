"""``secondpass card``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.card_client import CardClient, read_card
from tui.cli import DONE
from tui.locations import settings_yaml
from tui.present.json import show_json
from tui.present.terminal import shows_screens, tell
from tui.settings import read_settings


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Show the card; without a terminal, tell the desk's state once."""
    if arguments.json:
        show_json(read_card(arguments.folder))
    elif shows_screens():
        _show(arguments, stop)
    else:
        from tui.present.card import one_line  # noqa: PLC0415 - rich, which --json need not wait for

        tell(one_line(read_card(arguments.folder)))
    return DONE


def _show(arguments: argparse.Namespace, stop: threading.Event) -> None:
    settings = read_settings(settings_yaml())
    with CardClient(arguments.folder) as client:
        from tui.screens.card import CardApp  # noqa: PLC0415 - half a second that a refusal need not wait for

        CardApp(client, settings=settings, end=stop).run()
