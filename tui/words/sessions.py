"""Words of the verbs that make, open and show sessions."""

from __future__ import annotations

from tui.words.common import Verbs, channel, json_flag, path, session_folder, tempo, verb

TEMPO_FILE = "tempo map instead: a MIDI file, or labels as text"


def demo_words(verbs: Verbs) -> None:
    """Add ``demo``."""
    parser = verb(
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
        "--out", type=path, metavar="DIR", help="folder to make (default: a new one here)"
    )
    json_flag(parser)


def new_words(verbs: Verbs) -> None:
    """Add ``new``."""
    parser = verb(
        verbs,
        "new",
        "make a session from one or several DIs",
        "Makes a session folder: copies the DIs in (WAV, RF64, AIFF or FLAC), one part\n"
        "each, named after its file, and the wiring. Nothing is made when anything is\n"
        "wrong.",
        "example\n  secondpass new tonight --di rhythm-left.wav hook.wav \\\n"
        "                         --wiring room.yaml --bpm 96",
    )
    parser.add_argument("folder", type=path, metavar="DIR", help="folder to make")
    parser.add_argument(
        "--di",
        action="extend",
        type=path,
        nargs="+",
        required=True,
        metavar="FILE",
        help="the edited DIs",
    )
    parser.add_argument(
        "--channel", type=channel, default=1, metavar="N", help="channel of each, from 1"
    )
    parser.add_argument("--wiring", type=path, metavar="FILE", help="wiring to copy in")
    parser.add_argument("--bpm", type=tempo, metavar="N", help="tempo of the song")
    parser.add_argument("--tempo", type=path, metavar="FILE", help=TEMPO_FILE)
    parser.add_argument("--metre", metavar="N/N", help="such as 4/4")
    json_flag(parser)


def add_words(verbs: Verbs) -> None:
    """Add ``add``."""
    parser = verb(
        verbs,
        "add",
        "add a part, a corrected edit, an original, a song",
        "Adds a DI as a new part, or as the next revision of the part of that name, or\n"
        "with --new-song as the first part of a new song; with --original, the amp as it\n"
        "was recorded when the part was first played; with --backing, the track that\n"
        "players hear beside a song's parts; with --tempo, a song's tempo map.",
        "examples\n  secondpass add tonight --di hook.wav\n"
        "  secondpass add tonight --original amp-close.wav --part hook\n"
        "  secondpass add tonight --backing band.wav --song 'last ferry'\n"
        "  secondpass add tonight --tempo click.mid --song 'last ferry'\n"
        "  secondpass add tonight --di waltz.wav --new-song waltz --bpm 108 --metre 3/4",
    )
    session_folder(parser)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--di", type=path, metavar="FILE", help="an edited DI")
    what.add_argument(
        "--original", type=path, metavar="FILE", help="the first recording of the amp"
    )
    what.add_argument("--backing", type=path, metavar="FILE", help="a song's backing track")
    parser.add_argument("--part", metavar="P", help="the part (default: the DI's file name)")
    song = parser.add_mutually_exclusive_group()
    song.add_argument("--song", metavar="S", help="the song, where there are several")
    song.add_argument("--new-song", metavar="NAME", help="a song that the DI begins")
    parser.add_argument("--bpm", type=tempo, metavar="N", help="tempo of the new song")
    parser.add_argument("--tempo", type=path, metavar="FILE", help=TEMPO_FILE)
    parser.add_argument("--metre", metavar="N/N", help="of the new song, such as 3/4")
    parser.add_argument(
        "--name", metavar="M", help="which microphone it was (default: the file name)"
    )
    parser.add_argument(
        "--channel", type=channel, default=1, metavar="N", help="channel of the file, from 1"
    )
    json_flag(parser)


def open_words(verbs: Verbs) -> None:
    """Add ``open``."""
    parser = verb(
        verbs,
        "open",
        "the full screen",
        "Shows a session on the full screen: the signal path, the pass while it rolls,\n"
        "its verdict, the variants. Space starts and stops; ? lists the keys.",
        "example\n  secondpass open tonight",
    )
    session_folder(parser)


def card_words(verbs: Verbs) -> None:
    """Add ``card``."""
    parser = verb(
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
    session_folder(parser)
    json_flag(parser)


def completion_words(verbs: Verbs) -> None:
    """Add ``completion``."""
    parser = verb(
        verbs,
        "completion",
        "print a completion script for the shell",
        "Prints a script that completes verbs and options.",
        'examples\n  eval "$(secondpass completion bash)"\n'
        "  secondpass completion zsh > ~/.zfunc/_secondpass",
    )
    parser.add_argument("shell", choices=("bash", "zsh"), help="which shell")
