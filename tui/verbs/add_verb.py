"""``secondpass add``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.additions import Addition
from audio.jobs.alone import add_to_session
from tui.cli import DONE
from tui.present.json import show_json
from tui.present.plain import Plain
from tui.present.results import tell_added


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Add a part, a revision, an original, a song, its backing track or its tempo file."""
    asked = Addition(
        di=arguments.di,
        original=arguments.original,
        backing=arguments.backing,
        tempo=arguments.tempo,
        part=arguments.part,
        song=arguments.song,
        new_song=arguments.new_song,
        bpm=arguments.bpm,
        metre=arguments.metre,
        name=arguments.name,
        channel=arguments.channel,
    )
    added = add_to_session(arguments.folder, asked, listener=Plain(stop))
    if arguments.json:
        show_json(added)
    else:
        tell_added([added])
    return DONE
