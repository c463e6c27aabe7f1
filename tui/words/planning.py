"""Words of the verbs that plan an evening."""

from __future__ import annotations

from tui.words.common import Verbs, json_flag, session_folder, tempo, verb


def chains_words(verbs: Verbs) -> None:
    """Add ``chains``."""
    parser = verb(
        verbs,
        "chains",
        "list the chains that have a file",
        "Lists the chains of a session and those of your own folder, pedals in order, and\n"
        "what is wrong in their files. --show prints one as it is plugged and set.",
        "examples\n  secondpass chains tonight\n  secondpass chains tonight --show crunch",
    )
    session_folder(parser)
    parser.add_argument("--show", metavar="C", help="only this chain, whole")
    json_flag(parser)


def plan_words(verbs: Verbs) -> None:
    """Add ``plan``."""
    parser = verb(
        verbs,
        "plan",
        "the passes that are wanted, and what to touch for each",
        "Lists the passes of plan.yaml in the order that replugs least: what has to be\n"
        "touched for each, what it took, its verdict; and which parts were played through\n"
        "which chains. With --part and --chain it first adds passes: each part through\n"
        "each chain.",
        "examples\n  secondpass plan tonight\n"
        "  secondpass plan tonight --part rhythm-left hook --chain crunch 'fuzz into delay'\n"
        "  secondpass plan tonight --part hook --chain crunch --bars 5-8",
    )
    session_folder(parser)
    parser.add_argument("--part", action="extend", nargs="+", metavar="P", help="parts to add")
    parser.add_argument("--chain", action="extend", nargs="+", metavar="C", help="chains to add")
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--bars", metavar="A-B", help="only these bars")
    where.add_argument("--seconds", metavar="A-B", help="only these seconds of the DI")
    json_flag(parser)


def times_words(verbs: Verbs) -> None:
    """Add ``times``."""
    parser = verb(
        verbs,
        "times",
        "note values in milliseconds and hertz at a tempo",
        "What a delay or a tremolo is set to: every note value, plain, dotted and as a\n"
        "triplet. The tempo is in quarter notes a minute, whatever the metre.",
        "example\n  secondpass times --bpm 96",
    )
    parser.add_argument("--bpm", type=tempo, required=True, metavar="N", help="the tempo")
    json_flag(parser)
