"""What is known of a variant, for the command line."""

from __future__ import annotations

import sys

from audio.jobs.notes import Noted
from tui.present.note_words import in_short, made_of, quoted, when
from tui.present.results import INDENT
from tui.present.terminal import tell, width, wrapped


def tell_noted(known: Noted) -> None:
    """Print which variant it is, what was said of it, and its history, oldest first."""
    name, recorded = f"{known.part} {known.number:03d}", known.recorded
    if recorded is None:
        lines = wrapped(f"{name}: {known.problem}", columns=width(sys.stdout))
    else:
        apart = f", {made_of(recorded)}" if made_of(recorded) else ""
        state = "" if recorded.state == "kept" else f", {recorded.state}"
        head = f"{recorded.verdict.upper():5} {name} through {recorded.chain.name}{apart}{state}"
        lines = [head]
    said = known.opinion
    lines += _inside(in_short(said, recorded.chain.name if recorded else "what was said then"))
    for words in quoted(said):
        lines += _inside(words)
    for one in known.history:
        lines += _inside(f"{when(one)}  {one.text}")
    for line in lines:
        tell(line)


def _inside(words: str) -> list[str]:
    return wrapped(words, columns=width(sys.stdout), indent=INDENT)
