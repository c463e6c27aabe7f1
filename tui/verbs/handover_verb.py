"""``secondpass handover``."""

from __future__ import annotations

import argparse
import threading

from audio.jobs.deck import StoppedError
from audio.jobs.handing.alone import hand_over_alone
from audio.vocab.handover import HandoverAsked
from tui.cli import DONE, FAILED_CHECK, INTERRUPTED
from tui.present.handed import Progress, tell_handed
from tui.present.json import show_json
from tui.present.plain import Plain
from tui.present.terminal import say


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Hand over, and tell where it lies."""
    progress = Progress()
    try:
        done = hand_over_alone(
            arguments.folder,
            asked(arguments),
            out=arguments.out,
            listener=Plain(stop),
            shown=progress.show,
        )
    except StoppedError:
        say("stopped; what is whole stays, and the same command goes on")
        return INTERRUPTED
    finally:
        progress.end()
    if arguments.json:
        show_json(done)
    else:
        tell_handed(done)
    return FAILED_CHECK if done.left_out else DONE


def asked(arguments: argparse.Namespace) -> HandoverAsked:
    """Return what is wanted; what goes along counts once, in the alphabet's order."""
    return HandoverAsked(
        everything=arguments.all,
        parts=tuple(dict.fromkeys(arguments.part)),
        names=arguments.names,
        start=arguments.start,
        flac=arguments.flac,
        blends=arguments.blends,
        also=tuple(sorted(set(arguments.also))),
        sheet=not arguments.no_sheet,
        page=not arguments.no_page,
    )
