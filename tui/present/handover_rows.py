"""What would be handed over, in rows that can be changed, and how far it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from msgspec.structs import replace
from rich.text import Text

from audio.jobs import news
from audio.vocab.handover import Also, HandedOver, HandoverAsked, HandoverNow
from tui.present.glyphs import cut
from tui.present.handed import how_far, sounds_in_words
from tui.present.looks import ACCENT, CARE, FAINT, HERE, STRONG, WELL, paragraph, text

ALONG: tuple[tuple[Also, ...], ...] = (
    (),
    ("di",),
    ("originals",),
    ("di", "originals"),
    ("backing", "di", "originals"),
)
"""What may go along, as one key steps through it; in the alphabet's order."""

_ALONG_WORDS: dict[Also, str] = {"di": "DIs", "originals": "originals", "backing": "backing tracks"}

BAR_CELLS = 32


@dataclass(frozen=True, slots=True)
class Choice:
    """One row."""

    name: str
    says: str
    """What it means, for the row under the cursor."""
    shown: Callable[[HandoverAsked], str]
    turned: Callable[[HandoverAsked, int], HandoverAsked] | None = None
    """The value after or before; None where it is typed."""


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _turned_along(asked: HandoverAsked, step: int) -> HandoverAsked:
    at = ALONG.index(asked.also) if asked.also in ALONG else 0
    return replace(asked, also=ALONG[(at + step) % len(ALONG)])


def _turned_start(asked: HandoverAsked, step: int) -> HandoverAsked:  # noqa: ARG001 - there are two
    return replace(asked, start="song" if asked.start == "recorded" else "recorded")


ROWS = (
    Choice(
        "sounds",
        "Which variants: those that were kept (! at the variants), or all that are in sight.",
        lambda asked: "everything in sight" if asked.everything else "keepers",
        lambda asked, _: replace(asked, everything=not asked.everything),
    ),
    Choice(
        "begin",
        "Where files begin: each where it was recorded, with its time stamp; or all of a song at one"
        " place, bar 1, for an editor that reads no stamps.",
        lambda asked: "where recorded" if asked.start == "recorded" else "all at the song's bar 1",
        _turned_start,
    ),
    Choice(
        "FLAC",
        "A FLAC file beside each, without a loss.",
        lambda asked: _yes(asked.flac),
        lambda asked, _: replace(asked, flac=not asked.flac),
    ),
    Choice(
        "blends",
        "A file more of each sound: its microphones in one, as they were balanced.",
        lambda asked: _yes(asked.blends),
        lambda asked, _: replace(asked, blends=not asked.blends),
    ),
    Choice(
        "along",
        "What else goes along.",
        lambda asked: ", ".join(_ALONG_WORDS[one] for one in asked.also) or "nothing",
        _turned_along,
    ),
    Choice(
        "recall sheet",
        "A page that tells how each sound is set up again; it prints.",
        lambda asked: _yes(asked.sheet),
        lambda asked, _: replace(asked, sheet=not asked.sheet),
    ),
    Choice(
        "listening page",
        "A page on which the band listens and chooses, without this program.",
        lambda asked: _yes(asked.page),
        lambda asked, _: replace(asked, page=not asked.page),
    ),
    Choice(
        "names",
        "How files are named: {session} {song} {part} {number} {chain} {called} {microphone}, and / for a"
        " folder.",
        lambda asked: asked.names,
    ),
    Choice("folder", "Where it goes: a new folder, such as one on a stick.", lambda _: ""),
)


def row_lines(asked: HandoverAsked, to: str, *, at: int, kept: int, columns: int) -> list[Text]:
    """Return the rows, the one at `at` under the cursor, and below them what it means.

    Parameters
    ----------
    asked
        As it stands.
    to
        The folder; empty for one of the session's own.
    at
        Where the cursor is.
    kept
        How many keepers there are.
    columns
        Cells there are.

    Returns
    -------
    list of Text
        A line each, then one or two.
    """
    out = []
    for index, one in enumerate(ROWS):
        here = index == at
        value = (to or "the session's own, numbered") if one.name == "folder" else one.shown(asked)
        if one.name == "sounds" and not asked.everything:
            value = f"{kept} keeper{'' if kept == 1 else 's'}"
        mark = "  ▸ " if here else "    "
        room = max(columns - 22, 10)
        out.append(
            text(mark, (f"{one.name:<15}", HERE if here else STRONG), f"  {cut(value, room)}")
        )
    return [*out, text(), *paragraph(ROWS[at].says, columns, FAINT, indent=4)]


def going_lines(handing: news.HandingOver | news.HandOverDone | None, columns: int) -> list[Text]:
    """Return how far a hand-over is, or what became of the last one; nothing where there was none."""
    match handing:
        case news.HandingOver(now=now):
            return [_bar(now), text((f"   {cut(now.doing, max(columns - 4, 10))}", FAINT))]
        case news.HandOverDone(done=None):
            words = "stopped; what is whole stays, and the same again goes on"
            return paragraph(words, columns, CARE)
        case news.HandOverDone(done=done) if done is not None:
            return _done_lines(done, columns)
    return []


def _bar(now: HandoverNow) -> Text:
    share = now.size / now.of_size if now.of_size else 1.0
    full = round(BAR_CELLS * share)
    return text("   ", ("█" * full, ACCENT), ("░" * (BAR_CELLS - full), FAINT), f"  {how_far(now)}")


def _done_lines(done: HandedOver, columns: int) -> list[Text]:
    begun = ", gone on with" if done.resumed else ""
    lines = [text((f" handed over{begun}", WELL), f"  {sounds_in_words(done)}")]
    lines += paragraph(done.folder, columns, STRONG)
    for one in done.left_out:
        lines += paragraph(f"left out: {one}", columns, CARE)
    return lines
