"""What was said of a variant, and what happened to it, in words."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from audio.vocab.balance import balance_words
from audio.vocab.choice import choice_words
from audio.vocab.opinion import Happening, Opinion
from audio.vocab.saying import BEST_RATING
from audio.vocab.variant import Summary
from tui.present.looks import FAINT, STRONG, paragraph, wrapped_text
from tui.present.terminal import clean

RATING_CELLS = len(f"{BEST_RATING} of {BEST_RATING}")
WHEN_CHARACTERS = len("2026-11-25 21:07")
NO_RATING = "–"


def rating(said: Opinion) -> str:
    """Return a rating in always as many cells: ``4 of 5``, or nothing."""
    return f"{said.rating} of {BEST_RATING}" if said.rating else " " * RATING_CELLS


def made_of(one: Summary) -> str:
    """Return what sets a variant apart that is not a whole part, played: its section, its pieces."""
    if one.joined is not None:
        return f"= {one.joined.base:03d}+{one.joined.section:03d}"
    return one.covers.text if one.covers is not None else ""


def in_short(said: Opinion, recorded_chain: str) -> str:
    """Return all that was said but the words, in one line; empty where nothing was."""
    pieces = [
        kept_as(said),
        f"{said.rating} of {BEST_RATING}" if said.rating else "",
        f"called {said.called}" if said.called else "",
        f"really made through {said.chain}, not {recorded_chain}" if said.chain else "",
        f"photos: {', '.join(said.photos)}" if said.photos else "",
        balanced(said),
        chosen_by(said),
        "discarded" if said.discarded else "",
    ]
    return " · ".join(piece for piece in pieces if piece)


def chosen_by(said: Opinion) -> str:
    """Return who chose it of a hand-over, each once; empty where nobody did."""
    names = dict.fromkeys(one.listener for one in said.choices)
    return f"chosen by {', '.join(names)}" if names else ""


def quoted(said: Opinion) -> list[str]:
    """Return what was said in words, oldest first: here, then by those who chose it of a hand-over."""
    chosen = map(choice_words, (one for one in said.choices if one.words))
    return [*(f"“{words}”" for words in said.words), *chosen]


def kept_as(said: Opinion) -> str:
    """Return why and with which blend a variant is kept; empty where it is no keeper."""
    if said.keeper is None:
        return ""
    why = ", ".join(one for one in (said.keeper.reason, balance_words(said.keeper.balance)) if one)
    return f"keeper: {why}" if why else "keeper"


def balanced(said: Opinion) -> str:
    """Return how it was last balanced, where that is not what it is kept with."""
    same = said.keeper is not None and said.keeper.balance == said.balance
    words = balance_words(said.balance)
    if same or not (words or said.keeper):
        return ""
    return f"balance now: {words or 'all at 0 dB'}"


def said_lines(said: Opinion, recorded_chain: str, columns: int) -> list[Text]:
    """Return what was said, the newest words first."""
    short = in_short(said, recorded_chain)
    shown = paragraph(short, columns, STRONG) if short else []
    for words in reversed(quoted(said)):
        shown += paragraph(words, columns)
    return shown


def history_lines(happened: Sequence[Happening], columns: int, *, most: int) -> list[Text]:
    """Return a history in at most so many lines, the newest first."""
    shown: list[Text] = []
    for one in reversed(happened[-most:] if most > 0 else ()):
        shown += paragraph(f"{when(one)}  {one.text}", columns, FAINT)
    return shown[: max(most, 0)]


def when(one: Happening) -> str:
    """Return day and minute of a line, in always as many characters."""
    return f"{clean(one.at[:WHEN_CHARACTERS]).replace('T', ' ', 1):{WHEN_CHARACTERS}}"


def sheet_lines(
    said: Opinion, happened: Sequence[Happening], recorded_chain: str, columns: int
) -> tuple[list[Text], list[Text]]:
    """Return both for a sheet of evidence: what was said, and the whole history, oldest first."""
    words = [in_short(said, recorded_chain), *quoted(said)]
    told = [line for one in words if one for line in wrapped_text(one, columns)]
    tales = [line for one in happened for line in wrapped_text(f"{when(one)}  {one.text}", columns)]
    return told, tales
