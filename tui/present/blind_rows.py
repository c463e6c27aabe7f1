"""A blind trial in lines: places without names, what was heard of them, and what enter would answer."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from rich.text import Text

from audio.vocab.blind import Mode, Said, SittingNow, places
from tui.present.looks import ACCENT, CARE, FAINT, HERE, PLAIN, STRONG, text, two_sided

QUESTIONS: dict[Mode, str] = {
    "pairs": "which is better?",
    "ranking": "put them in order",
    "apart": "is X the same as A or as B?",
}

NAMES: dict[Mode, str] = {
    "pairs": "in pairs: which is better",
    "ranking": "all of them: put in order",
    "apart": "two of them: told apart or not (ABX)",
}
"""What a mode is called where it is chosen."""

_TIES: dict[Mode, str] = {"pairs": "no difference that matters", "apart": "cannot tell"}
_ROW_CELLS = 28


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a trial."""

    name: str
    place: int | None
    """Which place is heard at it; None where none is."""
    said: Said | None = None
    """What enter answers here."""
    does: str = ""
    """That, in words."""


def rows_of(now: SittingNow, ranks: Sequence[int | None]) -> list[Row]:
    """Return the lines of a sitting's trials.

    Parameters
    ----------
    now
        The sitting.
    ranks
        Of a ranking: what each place was given so far.

    Returns
    -------
    list of Row
        The places in order, then the answer that is no place.
    """
    mode, count = now.sitting.mode, len(now.sitting.sounds)
    names = places(mode, count)
    match mode:
        case "pairs":
            told = (
                Row(names[0], 0, "first", "it is better"),
                Row(names[1], 1, "second", "it is better"),
            )
            return [*told, Row(_TIES[mode], None, "tie", "noted")]
        case "apart":
            told = (Row("A", 0, "a", "X is A"), Row("B", 1, "b", "X is B"))
            return [*told, Row("X", 2), Row(_TIES[mode], None, "tie", "noted")]
        case "ranking":
            ranked = tuple(one for one in ranks if one is not None)
            all_ranked = len(ranked) == count
            does = "noted" if all_ranked else ""
            done = Row("done", None, ranked if all_ranked else None, does)
            return [*(Row(name, place) for place, name in enumerate(names)), done]


def head_line(now: SittingNow, columns: int) -> Text:
    """Return whose sitting it is, what is asked, and how far it has come."""
    sitting = now.sitting
    left = text(
        " ",
        (sitting.part, ACCENT),
        (f"  blind, {sitting.listener}: ", FAINT),
        (QUESTIONS[sitting.mode], STRONG),
    )
    count = f"{len(now.answers)} of {len(now.trials)} answered "
    return two_sided(left, text((count, PLAIN)), columns)


def row_lines(
    rows: Sequence[Row],
    at: int,
    *,
    heard: Collection[int],
    ranks: Sequence[int | None],
    enter: str,
) -> list[Text]:
    """Return the lines, the one under the cursor marked: there is no other sign of what is heard.

    Parameters
    ----------
    rows
        Of the trial.
    at
        Where the cursor is.
    heard
        Places that were heard in this trial.
    ranks
        Of a ranking: what each place was given so far.
    enter
        How the answering key is written.

    Returns
    -------
    list of Text
        One for each row.
    """
    out = []
    for index, one in enumerate(rows):
        here = index == at
        mark = "  ▸ " if here else "    "
        rank = _rank(ranks, one.place)
        fresh = one.place is not None and one.place not in heard
        not_yet = ("   not heard yet", CARE) if fresh else ""
        does = (f"   {enter}: {one.does}", FAINT) if here and one.does else ""
        name = f"{one.name:<{_ROW_CELLS if one.place is None else 8}}"
        out.append(text(mark, (name, HERE if here else STRONG), (rank, ACCENT), not_yet, does))
    return out


def _rank(ranks: Sequence[int | None], place: int | None) -> str:
    if place is None or place >= len(ranks):
        return ""
    rank = ranks[place]
    return "   –" if rank is None else "   1, the best" if rank == 1 else f"   {rank}"
