"""The command line: its words, its help, its exit codes.

Kept light: what a verb needs is loaded when it is used, so that ``--help`` answers at once.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
from importlib import import_module
from pathlib import Path
from typing import Any, NoReturn, Protocol

from audio.vocab.errors import SecondpassError
from tui.present.plain import say

DONE, FAILED_CHECK, WRONG_USE, INTERRUPTED = 0, 1, 2, 130

TOP = """\
Plays an edited DI out of one output of the interface, through reamp box, pedals and amp, records the
microphones back in the exact place of the first recording, and says whether the pass can be trusted."""

TOP_EXAMPLES = """\
a first evening
  secondpass demo --headless                 watch it work; no hardware needed
  secondpass devices                         what the system offers
  secondpass delay --wiring room.yaml        the round trip, by test click
  secondpass new tonight --di rhythm.wav --wiring room.yaml
  secondpass pass tonight --part rhythm --chain crunch

exit codes
  0 done   1 done, but the verdict is redo or a check failed   2 wrong use or bad input
  3 device or engine fault   130 interrupted

cautions
  Keep a speaker or its rated load on a valve amp; standby while replugging. Against hum use the ground
  lift of a DI or reamp box, never the mains safety earth. Loud amps harm hearing: local rules first."""


class Verb(Protocol):
    """A module of `tui.verbs`."""

    @staticmethod
    def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
        """Do it; return the exit code."""


class Manual(argparse.RawDescriptionHelpFormatter):
    """Help that reads like the first screen of a manual page."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=30, width=100)

    def _format_action(self, action: argparse.Action) -> str:
        if action.nargs != argparse.PARSER:
            return super()._format_action(action)
        return "".join(map(self._format_action, self._iter_indented_subactions(action)))


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        """Print one sentence and exit with 2."""
        say(f"{self.prog}: {message}; see {self.prog} --help")
        raise SystemExit(WRONG_USE)


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = Parser(
        prog="secondpass",
        description=TOP,
        epilog=TOP_EXAMPLES,
        formatter_class=Manual,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"%(prog)s {_version()}")
    verbs = parser.add_subparsers(title="verbs", dest="verb", metavar="VERB", required=True)
    _demo(verbs)
    _new(verbs)
    _add(verbs)
    _devices(verbs)
    _delay(verbs)
    _pass(verbs)
    _completion(verbs)
    return parser


class Verbs(Protocol):
    """Where a verb's parser is added: what `add_subparsers` returns has no public type."""

    def add_parser(self, name: str, **settings: Any) -> argparse.ArgumentParser:
        """Add one verb."""


def _verb(verbs: Verbs, name: str, short: str, long: str, examples: str) -> argparse.ArgumentParser:
    return verbs.add_parser(
        name,
        help=short,
        description=long,
        epilog=examples,
        formatter_class=Manual,
        allow_abbrev=False,
    )


def _json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on standard output, nothing else"
    )


def _demo(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "demo",
        "an invented session in the simulated room",
        "Makes an invented session and runs its passes in the simulated room: no hardware, no audio\n"
        "library. One of its cables dies half-way on purpose, so that a redo can be seen.",
        "example\n  secondpass demo --headless --out /tmp/harbour-lights",
    )
    parser.add_argument("--headless", action="store_true", help="plain lines instead of the screen")
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="folder to make (default: a new one here)"
    )
    _json(parser)


def _new(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "new",
        "make a session from one or several DIs",
        "Makes a session folder: copies the DIs in (WAV, RF64, AIFF or FLAC), one part each, named after\n"
        "its file, and the wiring. Nothing is made when anything is wrong.",
        "example\n  secondpass new tonight --di rhythm-left.wav hook.wav --wiring room.yaml --bpm 96",
    )
    parser.add_argument("folder", type=Path, metavar="DIR", help="folder to make")
    parser.add_argument(
        "--di", type=Path, nargs="+", required=True, metavar="FILE", help="the edited DIs"
    )
    parser.add_argument(
        "--channel", type=_whole, default=1, metavar="N", help="channel of each, from 1"
    )
    parser.add_argument("--wiring", type=Path, metavar="FILE", help="wiring to copy in")
    parser.add_argument("--bpm", type=float, metavar="N", help="tempo of the song")
    parser.add_argument("--metre", metavar="N/N", help="such as 4/4")
    _json(parser)


def _add(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "add",
        "add a part, a corrected edit, or an original",
        "Adds a DI as a new part, or as the next revision of the part of that name; or, with --original,\n"
        "the amp as it was recorded when the part was first played.",
        "examples\n  secondpass add tonight --di hook.wav\n"
        "  secondpass add tonight --original amp-close.wav --part hook",
    )
    parser.add_argument("folder", type=Path, metavar="DIR", help="the session")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--di", type=Path, metavar="FILE", help="an edited DI")
    what.add_argument(
        "--original", type=Path, metavar="FILE", help="the first recording of the amp"
    )
    parser.add_argument("--part", metavar="P", help="the part (default: the DI's file name)")
    parser.add_argument("--song", metavar="S", help="song of a new part, where there are several")
    parser.add_argument(
        "--name", metavar="M", help="which microphone it was (default: the file name)"
    )
    parser.add_argument(
        "--channel", type=_whole, default=1, metavar="N", help="channel of the file, from 1"
    )
    _json(parser)


def _devices(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "devices",
        "list the audio devices of the system",
        "Lists host, name and channels of each audio device, as a wiring names them.",
        "example\n  secondpass devices --json",
    )
    _json(parser)


def _delay(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "delay",
        "measure the round trip with a test click",
        "Sends a short click out of the send, quiet first and louder only until it is heard, never over\n"
        "the wiring's ceiling, and tells the round trip to each return.",
        "example\n  secondpass delay --wiring room.yaml\n\n"
        "caution\n  The click goes through the amp: keep ears away from the speaker.",
    )
    parser.add_argument("--wiring", type=Path, required=True, metavar="FILE", help="the wiring")
    _json(parser)


def _pass(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "pass",
        "run one pass",
        "Plays the part's DI through the chain that is plugged in and records the returns as the next\n"
        "numbered variant: click, DI, tail, click, verdict. Ctrl+C stops and keeps what was recorded.\n"
        "A chain named `bare path` has no pedal in it.",
        "example\n  secondpass pass tonight --part rhythm-left --chain 'fuzz into delay'\n\n"
        "caution\n  The amp will play at once, as loud as it is set.",
    )
    parser.add_argument("folder", type=Path, metavar="DIR", help="the session")
    parser.add_argument("--part", required=True, metavar="P", help="which part")
    parser.add_argument("--chain", required=True, metavar="C", help="name of what is plugged in")
    parser.add_argument(
        "--wiring", type=Path, metavar="FILE", help="another wiring than the session's"
    )
    _json(parser)


def _completion(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "completion",
        "print a completion script for the shell",
        "Prints a script that completes verbs and options.",
        'examples\n  eval "$(secondpass completion bash)"\n'
        "  secondpass completion zsh > ~/.zfunc/_secondpass",
    )
    parser.add_argument("shell", choices=("bash", "zsh"), help="which shell")


def _whole(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError("channels count from 1")
    return number


def _version() -> str:
    from importlib.metadata import version  # noqa: PLC0415 - 10 ms that only --version needs

    return version("secondpass")


def main(argv: list[str] | None = None) -> int:
    """Run the command line; return the exit code."""
    arguments = build_parser().parse_args(argv)
    stop = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stop.set())
    verb: Verb = import_module(f"tui.verbs.{arguments.verb}_verb")  # type: ignore[assignment]
    try:
        return verb.run(arguments, stop)
    except SecondpassError as error:
        say(f"secondpass: {error}")
        return error.exit_code
    except BrokenPipeError:
        # Whoever read the output has left; the interpreter must not complain while it flushes.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE


if __name__ == "__main__":
    sys.exit(main())
