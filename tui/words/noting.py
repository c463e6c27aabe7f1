"""Words of the verb that says something of a variant."""

from __future__ import annotations

import argparse
import contextlib

from audio.vocab.balance import Fader
from tui.words.common import Verbs, json_flag, session_folder, verb


def note_words(verbs: Verbs) -> None:
    """Add ``note``."""
    parser = verb(
        verbs,
        "note",
        "say something of a variant, or read what was said",
        "Rates a variant, keeps it with a reason, adds words or the name of a photo,\n"
        "balances its microphones, calls it otherwise, corrects the chain it was made\n"
        "through, or puts it out of sight. All of it goes into the journal: number, files\n"
        "and what was measured never change. With nothing to say it prints what is known:\n"
        "opinion and history.",
        "examples\n  secondpass note tonight --part hook --number 7 --rating 4\n"
        "  secondpass note tonight --part hook --number 7 --words 'warm, a bit slow'\n"
        "  secondpass note tonight --part hook --number 7 --keep --balance room=-6\n"
        "  secondpass note tonight --part hook --number 7 --json",
    )
    session_folder(parser)
    parser.add_argument("--part", required=True, metavar="P", help="which part")
    parser.add_argument(
        "--number", required=True, type=number, metavar="N", help="which variant of it"
    )
    parser.add_argument("--rating", type=rating, metavar="N", help="1 to 5; 0 takes it back")
    parser.add_argument("--words", metavar="TEXT", help="one line; added to what was said before")
    parser.add_argument("--photo", metavar="FILE", help="name of a photo's file, never opened")
    parser.add_argument(
        "--called", metavar="NAME", help="another name for it; '' goes back to its chain's"
    )
    parser.add_argument(
        "--chain", metavar="NAME", help="what it was really made through; '' takes that back"
    )
    parser.add_argument(
        "--balance",
        nargs="+",
        type=fader,
        metavar="MIC=DB",
        help="its microphones' faders, 0 to -40 dB or off; those not named stand at 0",
    )
    chosen = parser.add_mutually_exclusive_group()
    chosen.add_argument(
        "--keep",
        nargs="?",
        const="",
        metavar="REASON",
        help="it is a keeper, with the balance that holds now; the reason may be left out",
    )
    chosen.add_argument("--not-kept", action="store_true", help="it is no keeper any more")
    sight = parser.add_mutually_exclusive_group()
    sight.add_argument(
        "--discard",
        dest="discarded",
        action="store_const",
        const=True,
        help="put it out of sight; nothing is deleted",
    )
    sight.add_argument(
        "--take-back",
        dest="discarded",
        action="store_const",
        const=False,
        help="take it back into sight",
    )
    json_flag(parser)


def number(text: str) -> int:
    """Return a variant's number, from 1; as its folder writes it, too."""
    if not (text.isascii() and text.isdigit() and len(text) <= 9 and int(text)):
        raise argparse.ArgumentTypeError(f"{text!r} is no number of a variant; they count from 1")
    return int(text)


def rating(text: str) -> int:
    """Return a rating; whether there is such a one is said with the variant's name."""
    if not (text.isascii() and text.isdigit() and len(text) <= 9):
        raise argparse.ArgumentTypeError(f"{text!r} is no rating; write 1 to 5, or 0")
    return int(text)


def fader(text: str) -> Fader:
    """Return a microphone's fader; whether it can be so is said with the variant's name."""
    name, _, level = text.rpartition("=")
    with contextlib.suppress(ValueError):
        if name:
            return Fader(name=name, db=None if level == "off" else float(level))
    raise argparse.ArgumentTypeError(
        f"{text!r} is no fader; write the microphone and its level, such as room=-6 or room=off"
    )
