"""Words of the verb that reads what listeners sent back."""

from __future__ import annotations

from tui.words.common import Verbs, json_flag, path, verb


def choices_words(verbs: Verbs) -> None:
    """Add ``choices``."""
    parser = verb(
        verbs,
        "choices",
        "read the choices that listeners sent back",
        "Reads the text that a listening page makes of a choice into the session's\n"
        "journal, and tells who chose what. FILE is a saved mail (.eml) or any text file,\n"
        "- is standard input; greetings, quoting marks and wrapped lines do no harm, and\n"
        "several choices may stand in one file. What was read once changes nothing when\n"
        "it is read again; a later choice of the same listener replaces the earlier one.\n"
        "Without FILE it tells all choices so far. Nothing becomes a keeper by it.",
        "examples\n  secondpass choices mail.eml --session tonight\n"
        "  secondpass choices - --session tonight --json\n"
        "  secondpass choices --session tonight",
    )
    parser.add_argument(
        "file", nargs="?", type=path, metavar="FILE", help="a saved mail or a text; - reads one"
    )
    parser.add_argument(
        "--session",
        dest="folder",
        type=path,
        metavar="DIR",
        help="the session; else the one FILE lies in, or the current folder",
    )
    json_flag(parser)
