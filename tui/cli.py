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
from pathlib import Path
from typing import Any, Protocol

from audio.vocab.characters import is_hidden
from audio.vocab.errors import SecondpassError
from audio.vocab.step_names import STEPS
from tui.parsing import Manual, Parser, ShowVersion
from tui.present.terminal import say
from tui.told import TOLD_TO_STEPS

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
    _demo(verbs)
    _new(verbs)
    _add(verbs)
    _devices(verbs)
    _delay(verbs)
    _offset(verbs)
    _set(verbs)
    _pass(verbs)
    _open(verbs)
    _card(verbs)
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
        "--json", action="store_true", help="print one JSON object and nothing else"
    )


def _session(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=_path, metavar="DIR", help="the session")


def _demo(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "demo",
        "an invented session in the simulated room",
        "Makes an invented session in the simulated room and opens it on the screen: no\n"
        "hardware, no audio library. With --headless, or without a terminal, it runs\n"
        "five passes in plain lines; the cable of the last one dies half-way on purpose.",
        "examples\n  secondpass demo\n  secondpass demo --headless --out /tmp/harbour-lights",
    )
    parser.add_argument("--headless", action="store_true", help="plain lines instead of the screen")
    parser.add_argument(
        "--out", type=_path, metavar="DIR", help="folder to make (default: a new one here)"
    )
    _json(parser)


def _new(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "new",
        "make a session from one or several DIs",
        "Makes a session folder: copies the DIs in (WAV, RF64, AIFF or FLAC), one part\n"
        "each, named after its file, and the wiring. Nothing is made when anything is\n"
        "wrong.",
        "example\n  secondpass new tonight --di rhythm-left.wav hook.wav \\\n"
        "                         --wiring room.yaml --bpm 96",
    )
    parser.add_argument("folder", type=_path, metavar="DIR", help="folder to make")
    parser.add_argument(
        "--di", type=_path, nargs="+", required=True, metavar="FILE", help="the edited DIs"
    )
    parser.add_argument(
        "--channel", type=_channel, default=1, metavar="N", help="channel of each, from 1"
    )
    parser.add_argument("--wiring", type=_path, metavar="FILE", help="wiring to copy in")
    parser.add_argument("--bpm", type=_tempo, metavar="N", help="tempo of the song")
    parser.add_argument("--metre", metavar="N/N", help="such as 4/4")
    _json(parser)


def _add(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "add",
        "add a part, a corrected edit, an original, a song",
        "Adds a DI as a new part, or as the next revision of the part of that name, or\n"
        "with --new-song as the first part of a new song; with --original, the amp as it\n"
        "was recorded when the part was first played; with --backing, the track that\n"
        "players hear beside a song's parts.",
        "examples\n  secondpass add tonight --di hook.wav\n"
        "  secondpass add tonight --original amp-close.wav --part hook\n"
        "  secondpass add tonight --backing band.wav --song 'last ferry'\n"
        "  secondpass add tonight --di waltz.wav --new-song waltz --bpm 108 --metre 3/4",
    )
    _session(parser)
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--di", type=_path, metavar="FILE", help="an edited DI")
    what.add_argument(
        "--original", type=_path, metavar="FILE", help="the first recording of the amp"
    )
    what.add_argument("--backing", type=_path, metavar="FILE", help="a song's backing track")
    parser.add_argument("--part", metavar="P", help="the part (default: the DI's file name)")
    song = parser.add_mutually_exclusive_group()
    song.add_argument("--song", metavar="S", help="the song, where there are several")
    song.add_argument("--new-song", metavar="NAME", help="a song that the DI begins")
    parser.add_argument("--bpm", type=_tempo, metavar="N", help="tempo of the new song")
    parser.add_argument("--metre", metavar="N/N", help="of the new song, such as 3/4")
    parser.add_argument(
        "--name", metavar="M", help="which microphone it was (default: the file name)"
    )
    parser.add_argument(
        "--channel", type=_channel, default=1, metavar="N", help="channel of the file, from 1"
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
        "Sends a short click out of the send, quiet first and louder only until it is\n"
        "heard, never over the wiring's ceiling, and tells the round trip to each return.",
        "example\n  secondpass delay --wiring room.yaml\n\n"
        "caution\n  The click goes through the amp: keep ears away from the speaker.",
    )
    parser.add_argument("--wiring", type=_path, required=True, metavar="FILE", help="the wiring")
    _json(parser)


def _offset(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "offset",
        "how far a recording lies from its DI",
        "Places any recording of an amp against the DI that was played, by the music\n"
        "alone: delay of the first arrival, polarity, drift between two clocks, frames\n"
        "lost or inserted. The recording may begin up to two minutes early or late. Where\n"
        "the place is not sure, there is no number but the reason.",
        "example\n  secondpass offset rhythm-left.wav amp-close.wav",
    )
    parser.add_argument("di", type=_path, metavar="DI", help="the DI")
    parser.add_argument("recording", type=_path, metavar="RECORDING", help="the recording")
    parser.add_argument(
        "--di-channel", type=_channel, default=1, metavar="N", help="channel of the DI, from 1"
    )
    parser.add_argument(
        "--channel", type=_channel, default=1, metavar="N", help="of the recording, from 1"
    )
    _json(parser)


def _set(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "set",
        "set up: levels, noise, polarity, delay",
        "Leads through the steps before a pass: wire, silence, send level, return gain,\n"
        "polarity, delay. In a terminal it asks before each; every step can be skipped.\n"
        "What was measured is kept with the session, and every pass names it.",
        "examples\n  secondpass set tonight\n  secondpass set tonight --list\n"
        "  secondpass set tonight --step polarity --step delay --chain 'bare path'\n\n"
        "caution\n  Most steps make the amp sound: keep ears away from the speaker.",
    )
    _session(parser)
    parser.add_argument(
        "--step",
        action="append",
        default=[],
        choices=[step.replace(" ", "-") for step in STEPS],
        help="only this step; may be given again",
    )
    parser.add_argument("--list", action="store_true", help="tell what is set and what is stale")
    parser.add_argument("--part", metavar="P", help="whose send level (default: the first part)")
    parser.add_argument("--chain", metavar="C", default="", help="name of what is plugged in")
    told = parser.add_argument_group("what steps can be told")
    for flag, what in TOLD_TO_STEPS.items():
        told.add_argument(f"--{flag}", metavar=what[0], help=what[1])
    _json(parser)


def _pass(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "pass",
        "run one pass",
        "Plays the part's DI through the chain that is plugged in and records the\n"
        "returns as the next numbered variant: click, DI, tail, click, verdict. Ctrl+C\n"
        "stops and keeps what was recorded. A chain named `bare path` has no pedal in it.",
        "example\n  secondpass pass tonight --part rhythm-left --chain 'fuzz into delay'\n\n"
        "caution\n  The amp will play at once, as loud as it is set.",
    )
    _session(parser)
    parser.add_argument("--part", required=True, metavar="P", help="which part")
    parser.add_argument("--chain", required=True, metavar="C", help="name of what is plugged in")
    parser.add_argument(
        "--wiring", type=_path, metavar="FILE", help="another wiring than the session's"
    )
    _json(parser)


def _card(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "card",
        "a second terminal, for the amp room",
        "Shows on another terminal (a laptop or phone over ssh) what the program does that\n"
        "has the session open: what is next, time left, verdict; and offers go and stop.\n"
        "Of several cards one drives: only its go counts. The first one does, t takes over;\n"
        "every card can always stop.\n"
        "Leaving the card changes nothing. Without a terminal it prints one line.",
        "example\n  secondpass card tonight\n\n"
        "caution\n  Go makes the amp play after the countdown: keep ears away from the speaker.",
    )
    _session(parser)
    _json(parser)


def _open(verbs: Verbs) -> None:
    parser = _verb(
        verbs,
        "open",
        "the full screen",
        "Shows a session on the full screen: the signal path, the pass while it rolls,\n"
        "its verdict, the variants. Space starts and stops; ? lists the keys.",
        "example\n  secondpass open tonight",
    )
    _session(parser)


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


def _path(text: str) -> Path:
    if not text:
        raise argparse.ArgumentTypeError("the path is empty; name a file or folder")
    if any(is_hidden(c) for c in text):
        raise argparse.ArgumentTypeError(f"the path {text!r} has a hidden character; rename it")
    return Path(text)


def _channel(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text)):
        raise argparse.ArgumentTypeError(f"{text!r} is no channel; channels count from 1")
    return int(text)


def _tempo(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        way_out = "write quarter notes a minute, such as 96 or 96.5"
        raise argparse.ArgumentTypeError(f"{text!r} is no tempo; {way_out}") from None


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
