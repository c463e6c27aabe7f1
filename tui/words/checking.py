"""Words of the verb that checks a DI."""

from __future__ import annotations

import argparse

from audio.vocab.checked import PARTS
from tui.words.common import Verbs, channel, json_flag, path, tempo, verb


def check_words(verbs: Verbs) -> None:
    """Add ``check``."""
    parser = verb(
        verbs,
        "check",
        "is a DI ready to be sent",
        "Looks an edited DI through for all that will be heard through a loud amp: joints,\n"
        "missing fades, clipping, noise between the phrases, pieces that are copied, hits\n"
        "off the grid; each with its place. Nothing is changed. DI is a file, or a session\n"
        "whose parts are all checked, or one of them.",
        "examples\n  secondpass check rhythm-left.wav --bpm 96\n"
        "  secondpass check tonight --part hook\n"
        "  secondpass check lead.wav --tempo song.mid --drums drums.wav\n"
        "  secondpass check left.wav --double right.wav --bpm 120 --first-beat 2.5",
    )
    parser.add_argument("di", type=path, metavar="DI", help="the DI, or a session")
    parser.add_argument("--part", metavar="P", help="which part of a session")
    parser.add_argument("--channel", type=channel, metavar="N", help="channel of the file, from 1")
    parser.add_argument("--wiring", type=path, metavar="FILE", help="what it will be sent through")
    _tempo_words(parser)
    _beside_words(parser)
    json_flag(parser)


def _tempo_words(parser: argparse.ArgumentParser) -> None:
    grid = parser.add_argument_group("the grid")
    where = grid.add_mutually_exclusive_group()
    where.add_argument("--bpm", type=tempo, metavar="N", help="quarter notes a minute")
    where.add_argument(
        "--tempo", type=path, metavar="FILE", help="a MIDI file, or labels of bars as text"
    )
    grid.add_argument("--metre", metavar="A/B", help="such as 6/8 (default: 4/4)")
    grid.add_argument(
        "--first-beat",
        type=float,
        metavar="S",
        help="where bar 1 begins, seconds from the DI's start",
    )
    grid.add_argument(
        "--parts",
        type=int,
        choices=PARTS,
        help="places in a beat (default: found)",
        metavar="N",
    )
    grid.add_argument(
        "--swing", type=float, metavar="PERCENT", help="50 straight to 75 (default: found)"
    )
    grid.add_argument(
        "--own-mean", action="store_true", help="leave a steady push or drag of the part out"
    )


def _beside_words(parser: argparse.ArgumentParser) -> None:
    beside = parser.add_argument_group("beside it")
    for flag, what in (
        ("raw", "the DI before the edit: was it normalised or panned?"),
        ("drums", "a recording whose hits these are held against"),
        ("double", "the other DI of a double, compared hit by hit"),
    ):
        beside.add_argument(f"--{flag}", type=path, metavar="FILE", help=what)
        beside.add_argument(
            f"--{flag}-channel", type=channel, default=1, metavar="N", help="its channel, from 1"
        )
