"""Words of the verb that makes a drop-in."""

from __future__ import annotations

import argparse

from tui.words.common import Verbs, json_flag, session_folder, verb


def join_words(verbs: Verbs) -> None:
    """Add ``join``."""
    parser = verb(
        verbs,
        "join",
        "make a drop-in: a variant with a section replaced",
        "Makes a new variant: an old one of the whole part in which a stretch is replaced\n"
        "by the variant of a section, joined by short fades where it shows least. The two\n"
        "stay as they are; outside the fades every sample is one of theirs.",
        "example\n  secondpass join tonight --part rhythm-left --into 3 --section 7",
    )
    session_folder(parser)
    parser.add_argument("--part", required=True, metavar="P", help="which part")
    parser.add_argument(
        "--into", required=True, type=_number, metavar="N", help="the variant of the whole part"
    )
    parser.add_argument(
        "--section", required=True, type=_number, metavar="M", help="the variant of a section"
    )
    json_flag(parser)


def _number(text: str) -> int:
    """Return the number of a variant."""
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 10**9):
        raise argparse.ArgumentTypeError(f"{text!r} is no number of a variant; write one such as 7")
    return int(text)
