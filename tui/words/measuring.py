"""Words of the verbs that measure and play."""

from __future__ import annotations

from audio.vocab.step_names import STEPS
from tui.told import TOLD_TO_STEPS
from tui.words.common import Verbs, as_it_is_flag, channel, json_flag, path, session_folder, verb


def devices_words(verbs: Verbs) -> None:
    """Add ``devices``."""
    parser = verb(
        verbs,
        "devices",
        "list the audio devices of the system",
        "Lists host, name and channels of each audio device, as a wiring names them.",
        "example\n  secondpass devices --json",
    )
    json_flag(parser)


def delay_words(verbs: Verbs) -> None:
    """Add ``delay``."""
    parser = verb(
        verbs,
        "delay",
        "measure the round trip with a test click",
        "Sends a short click out of the send, quiet first and louder only until it is\n"
        "heard, never over the wiring's ceiling, and tells the round trip to each return.",
        "example\n  secondpass delay --wiring room.yaml\n\n"
        "caution\n  The click goes through the amp: keep ears away from the speaker.",
    )
    parser.add_argument("--wiring", type=path, required=True, metavar="FILE", help="the wiring")
    json_flag(parser)


def offset_words(verbs: Verbs) -> None:
    """Add ``offset``."""
    parser = verb(
        verbs,
        "offset",
        "how far a recording lies from its DI",
        "Places any recording of an amp against the DI that was played, by the music\n"
        "alone: delay of the first arrival, polarity, drift between two clocks, frames\n"
        "lost or inserted. The recording may begin up to two minutes early or late. Where\n"
        "the place is not sure, there is no number but the reason.",
        "example\n  secondpass offset rhythm-left.wav amp-close.wav",
    )
    parser.add_argument("di", type=path, metavar="DI", help="the DI")
    parser.add_argument("recording", type=path, metavar="RECORDING", help="the recording")
    parser.add_argument(
        "--di-channel", type=channel, default=1, metavar="N", help="channel of the DI, from 1"
    )
    parser.add_argument(
        "--channel", type=channel, default=1, metavar="N", help="of the recording, from 1"
    )
    json_flag(parser)


def set_words(verbs: Verbs) -> None:
    """Add ``set``."""
    parser = verb(
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
    session_folder(parser)
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
    json_flag(parser)


def pass_words(verbs: Verbs) -> None:
    """Add ``pass``."""
    parser = verb(
        verbs,
        "pass",
        "run one pass",
        "Plays the part's DI through the chain that is plugged in and records the\n"
        "returns as the next numbered variant: click, DI, tail, click, verdict. Ctrl+C\n"
        "stops and keeps what was recorded. A chain named `bare path` has no pedal in it.",
        "examples\n  secondpass pass tonight --part rhythm-left --chain 'fuzz into delay'\n"
        "  secondpass pass tonight --part hook --chain crunch --bars 5-8\n\n"
        "caution\n  The amp will play at once, as loud as it is set.",
    )
    session_folder(parser)
    parser.add_argument("--part", required=True, metavar="P", help="which part")
    parser.add_argument("--chain", required=True, metavar="C", help="name of what is plugged in")
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--bars", metavar="A-B", help="only these bars of the song, such as 5-8")
    where.add_argument("--seconds", metavar="A-B", help="only these seconds of the DI")
    parser.add_argument(
        "--wiring", type=path, metavar="FILE", help="another wiring than the session's"
    )
    as_it_is_flag(parser)
    json_flag(parser)
