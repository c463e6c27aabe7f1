"""``secondpass new``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.alone import make_session
from tui.cli import DONE
from tui.present.json import show_json
from tui.present.results import tell_added, tell_tempo
from tui.present.terminal import tell


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - whole or not at all
    """Make the session."""
    made = make_session(
        arguments.folder,
        dis=tuple(arguments.di),
        channel=arguments.channel,
        wiring_path=arguments.wiring,
        bpm=arguments.bpm,
        metre=arguments.metre,
        tempo_path=arguments.tempo,
    )
    if arguments.json:
        show_json(made)
    else:
        tell(f"session {made.session}")
        tell_added(made.parts)
        tell_tempo(made.tempo)
    return DONE
