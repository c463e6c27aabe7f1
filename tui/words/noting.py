"""Words of the verb that says something of a variant."""

from __future__ import annotations

import argparse

from tui.words.common import Verbs, json_flag, session_folder, verb


def note_words(verbs: Verbs) -> None:
    """Add ``note``."""
    parser = verb(
        verbs,
        "note",
        "say something of a variant, or read what was said",
        "Rates a variant, adds words or the name of a photo, calls it otherwise, corrects\n"
        "the chain it was made through, or puts it out of sight. All of it goes into the\n"
        "journal: number, files and what was measured never change. With nothing to say\n"
        "it prints what is known: opinion and history.",
        "examples\n  secondpass note tonight --part hook --number 7 --rating 4\n"
        "  secondpass note tonight --part hook --number 7 --words 'warm, a bit slow'\n"
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
