"""Words of the verb that runs the plan."""

from __future__ import annotations

from tui.words.common import Verbs, as_it_is_flag, json_flag, session_folder, verb


def run_words(verbs: Verbs) -> None:
    """Add ``run``."""
    parser = verb(
        verbs,
        "run",
        "run the plan, card after card",
        "Shows the card of each line of the plan that is left to do, waits, counts down,\n"
        "plays and judges it, and goes on. A pass to be done again holds the run with its\n"
        "reason; what is to be looked at is told at the end. Enter plays, s skips, h holds\n"
        "and leaves; where nothing has to be touched the countdown begins by itself, and\n"
        "enter holds it. A run that was left goes on where it was, once you press enter.\n"
        "Without a terminal it runs in the simulated room only.",
        "examples\n  secondpass run tonight\n  secondpass run tonight --repeat-redo\n\n"
        "caution\n  The amp plays after each countdown, as loud as it is set: ears away from the\n"
        "  speaker. Standby while replugging.",
    )
    session_folder(parser)
    parser.add_argument(
        "--repeat-redo",
        action="store_true",
        help="repeat a pass to be done again once before holding",
    )
    as_it_is_flag(parser)
    json_flag(parser)
