"""``secondpass note``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.notes import note
from audio.vocab.balance import Balance
from tui.cli import DONE
from tui.present.json import show_json
from tui.present.noted import tell_noted


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:  # noqa: ARG001 - over in a moment
    """Say it, and tell what is known of the variant then."""
    known = note(
        arguments.folder,
        arguments.part,
        arguments.number,
        rating=arguments.rating,
        words=arguments.words,
        photo=arguments.photo,
        called=arguments.called,
        chain=arguments.chain,
        discarded=arguments.discarded,
        balance=Balance(faders=tuple(arguments.balance)) if arguments.balance else None,
        keeper=False if arguments.not_kept else None if arguments.keep is None else True,
        reason=arguments.keep
        or None,  # one that is kept again without a reason keeps the one it has
    )
    if arguments.json:
        show_json(known)
    else:
        tell_noted(known)
    return DONE
