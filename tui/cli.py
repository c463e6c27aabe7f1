"""The command line: its words, its help, its exit codes.

Kept light: what a verb needs is loaded when it is used, so that ``--help`` answers at once.
"""

from __future__ import annotations

import argparse
import io
import signal
import sys
import threading
from importlib import import_module
from typing import Protocol

from audio.vocab.errors import SecondpassError
from tui.parsing import Manual, Parser, ShowVersion
from tui.present.terminal import say
from tui.words import checking, measuring, noting, planning, sessions
from tui.words.blind_words import blind_words
from tui.words.choices_words import choices_words
from tui.words.differ_words import differ_words
from tui.words.handover_words import handover_words
from tui.words.join_words import join_words
from tui.words.run_words import run_words

DONE, FAILED_CHECK, INTERRUPTED = 0, 1, 130

TOP = """\
Plays an edited DI out of one output of the interface, through reamp box,
pedals and amp, records the microphones back in the exact place of the first
recording, and says whether the pass can be trusted."""

TOP_EXAMPLES = """\
a first evening
  secondpass demo                        an invented session on the screen
  secondpass devices                     what the system offers
  secondpass delay --wiring room.yaml    the round trip, by test click
  secondpass new tonight --di rhythm.wav --wiring room.yaml
  secondpass open tonight                the full screen
  secondpass card tonight                a second terminal, in the amp room

exit codes
  0 done                        2 wrong use or bad input    130 interrupted
  1 redo, or a check failed     3 device or engine fault

cautions
  Keep a speaker or its rated load on a valve amp; standby while replugging.
  Against hum use the ground lift of a DI or reamp box, never the mains
  safety earth. Loud amps harm hearing: local rules first."""


class Verb(Protocol):
    """A module of `tui.verbs`."""

    @staticmethod
    def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
        """Do it; return the exit code."""


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = Parser(
        prog="secondpass",
        description=TOP,
        epilog=TOP_EXAMPLES,
        formatter_class=Manual,
        allow_abbrev=False,
    )
    parser.add_argument(
        "--version", action=ShowVersion, nargs=0, help="print the version and leave"
    )
    verbs = parser.add_subparsers(title="verbs", dest="verb", metavar="VERB")
    sessions.demo_words(verbs)
    sessions.new_words(verbs)
    sessions.add_words(verbs)
    checking.check_words(verbs)
    measuring.devices_words(verbs)
    measuring.delay_words(verbs)
    measuring.offset_words(verbs)
    measuring.set_words(verbs)
    measuring.pass_words(verbs)
    planning.chains_words(verbs)
    planning.plan_words(verbs)
    planning.times_words(verbs)
    noting.note_words(verbs)
    blind_words(verbs)
    choices_words(verbs)
    differ_words(verbs)
    join_words(verbs)
    run_words(verbs)
    handover_words(verbs)
    sessions.open_words(verbs)
    sessions.card_words(verbs)
    sessions.completion_words(verbs)
    return parser


def main(argv: list[str] | None = None) -> int:
    """Run the command line; return the exit code."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(
            errors="replace"
        )  # a minus sign must not end a pass in an old locale
    parser = build_parser()
    arguments = parser.parse_args(argv)
    if arguments.verb is None:
        parser.error("name a verb, such as demo, new or pass")
    stop = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stop.set())
    verb: Verb = import_module(f"tui.verbs.{arguments.verb}_verb")  # type: ignore[assignment]
    try:
        return verb.run(arguments, stop)
    except SecondpassError as error:
        for line in f"secondpass: {error}".split("\n"):
            say(line)
        return error.exit_code


if __name__ == "__main__":
    sys.exit(main())
