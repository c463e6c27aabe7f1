"""Words of the verb that hands over."""

from __future__ import annotations

from typing import get_args

from audio.vocab.handover import NAMES, Also
from tui.words.common import Verbs, json_flag, path, session_folder, verb


def handover_words(verbs: Verbs) -> None:
    """Add ``handover``."""
    parser = verb(
        verbs,
        "handover",
        "the keepers as files, a recall sheet and a listening page",
        "Makes a new folder that can leave the building: the keepers' files with their\n"
        "time stamps, a list of all that is known of them, checksums, a recall sheet to\n"
        "set each sound up again, and a page on which people listen and choose. Stopped\n"
        "or killed, the same command goes on. Nothing is overwritten.",
        "examples\n  secondpass handover tonight\n"
        "  secondpass handover tonight --out /media/stick/tonight --flac --blends\n"
        "  secondpass handover tonight --all --start song --also di originals\n"
        '  secondpass handover tonight --names "{part}_{called}_{number}_{microphone}"\n\n'
        "names can hold\n  {session} {song} {part} {number} {chain} {called} {microphone}, and / for a\n"
        f"  folder; usually {NAMES}",
    )
    session_folder(parser)
    parser.add_argument(
        "--out", type=path, metavar="DIR", help="a new folder; else one in the session's handover/"
    )
    parser.add_argument(
        "--all", action="store_true", help="every variant in sight, not the keepers alone"
    )
    parser.add_argument(
        "--part", action="append", default=[], metavar="P", help="only this part; may be repeated"
    )
    parser.add_argument(
        "--names", default=NAMES, metavar="PATTERN", help="how the files are named; see below"
    )
    parser.add_argument(
        "--start",
        choices=("recorded", "song"),
        default="recorded",
        help="each where it was recorded, by its time stamp; or all of a song at one place, its bar 1",
    )
    parser.add_argument("--flac", action="store_true", help="a FLAC file beside each")
    parser.add_argument(
        "--blends",
        action="store_true",
        help="each sound's microphones in one file more, as balanced",
    )
    parser.add_argument(
        "--also",
        nargs="+",
        choices=get_args(Also),
        default=[],
        metavar="WHAT",
        help="what goes along, too: di, originals, backing",
    )
    parser.add_argument("--no-sheet", action="store_true", help="without the recall sheet")
    parser.add_argument("--no-page", action="store_true", help="without the listening page")
    json_flag(parser)
