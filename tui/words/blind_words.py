"""Words of the verb that tells what blind sittings have come to."""

from __future__ import annotations

from tui.words.common import Verbs, json_flag, session_folder, verb


def blind_words(verbs: Verbs) -> None:
    """Add ``blind``."""
    parser = verb(
        verbs,
        "blind",
        "what was preferred by those who listened blind",
        "Tells what blind sittings have come to: which sound was preferred to which, or\n"
        "whether two can be told apart (ABX); each listener's answers, then all together;\n"
        "and how often chance alone would do as much. A sitting is told when every answer\n"
        "that was planned is in, or when somebody has ended it early.",
        "examples\n  secondpass blind tonight\n"
        "  secondpass blind tonight --part hook --listener Anna --json",
    )
    session_folder(parser)
    parser.add_argument("--part", metavar="P", help="only this part")
    parser.add_argument("--listener", metavar="NAME", help="only this listener")
    json_flag(parser)
