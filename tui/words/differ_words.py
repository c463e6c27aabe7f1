"""Words of ``differ``."""

from __future__ import annotations

from audio.vocab.layers import DI, ORIGINAL, variant_key
from tui.words.common import Verbs, json_flag, session_folder, verb
from tui.words.noting import number


def differ_words(verbs: Verbs) -> None:
    """Add ``differ``."""
    parser = verb(
        verbs,
        "differ",
        "what is different between two sounds of a part",
        "Measures a variant (A) and another sound of its part (B) at equal loudness: tone\n"
        "in third octaves, level, crest, noise and hum in the rests, echo and tail; and\n"
        "says what would make A sound like B. Only what is heard and can be trusted is\n"
        "said.",
        "examples\n  secondpass differ tonight --part hook --number 3 --other 5\n"
        "  secondpass differ tonight --part hook --number 3 --other original --bars 5-8",
    )
    session_folder(parser)
    parser.add_argument("--part", required=True, metavar="P", help="which part")
    parser.add_argument("--number", required=True, type=number, metavar="N", help="variant A")
    parser.add_argument(
        "--other",
        required=True,
        type=_other,
        metavar="M",
        help="sound B: a variant's number, original, original:NAME, or di",
    )
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--bars", metavar="A-B", help="only these bars of the song, such as 5-8")
    where.add_argument("--seconds", metavar="A-B", help="only these seconds of the DI")
    json_flag(parser)


def _other(text: str) -> str:
    if text in (DI, ORIGINAL) or text.startswith(f"{ORIGINAL}:"):
        return text
    return variant_key(number(text))
