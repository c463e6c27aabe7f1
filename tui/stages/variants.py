"""Variants: what the passes of this part left."""

from __future__ import annotations

from collections.abc import Callable

from rich.style import Style
from rich.text import Text

from audio.vocab.findings import Finding
from audio.vocab.opinion import Opinion
from audio.vocab.units import clock_time
from audio.vocab.variant import Broken, Summary
from tui.actions import RATE
from tui.model import Model
from tui.present.glyphs import cells_of, cut
from tui.present.looks import (
    ACCENT,
    FAINT,
    HERE,
    PLAIN,
    STRONG,
    VERDICT_LOOKS,
    in_sight,
    paragraph,
    text,
)
from tui.present.note_words import chosen_by, history_lines, made_of, rating, said_lines
from tui.present.plain import level

KEYS = (
    ("choose_up+choose_down", "variant"),
    ("enter", "listen"),
    ("evidence", "why"),
    (RATE, "rate"),
    ("words", ""),
    ("keep", ""),
    ("keys", ""),
    ("hand_over", ""),
    ("differ", ""),
    ("note", ""),
    ("go", "pass"),
    ("discard", ""),
    ("discarded", ""),
    ("join", ""),
    ("next_part", ""),
    ("walk_left+walk_right", "walk"),
)

EMPTY = (
    "Every pass leaves a numbered variant here, with its verdict. For the first one choose a chain, then"
    " press {go}."
)

REST_CELLS = 56
"""Cells of a line besides the name: its number, verdict, rating, level, time and state."""

CHOSEN_CELLS = 24
"""Cells kept behind that for who chose it, once a name has forty."""

KEPT = "▙"
"""Stands before the word at a keeper: a corner, as of something set down to stay."""

LEAST_LISTED = 5
"""Rows the list keeps, however much is to be said of the variant under the cursor."""


def lines(
    model: Model, columns: int, rows: int, *, at: int, key: Callable[[str], str]
) -> list[Text]:
    """Return the chosen part's variants, the newest first, and what is to be said of the one at `at`."""
    found, hidden = model.listed(), model.notes.discarded(model.part or "")
    broken = model.snapshot.broken if model.snapshot else ()
    unread = model.snapshot.opinions_problem if model.snapshot else ""
    if not found and not broken and not hidden and not unread:
        return [text(), *paragraph(EMPTY.format(go=key("go")), columns, FAINT)]
    out = [*_out_of_sight(model, hidden, key), *_to_hand_over(model, key)]
    most = max(rows - 1 - len(out) - min(len(found), LEAST_LISTED), 0)
    below = _below(model, found[at], columns, most) if found else []
    below = [*_unread(unread, columns), *below, *_damaged(broken, columns, rows)][:most]
    room = max(rows - len(below) - len(out) - 1, 1)
    listed = [_one(model, found[i], columns, here=i == at) for i in in_sight(len(found), at, room)]
    return [*listed, *out, text(), *below][:rows]


def _out_of_sight(model: Model, count: int, key: Callable[[str], str]) -> list[Text]:
    """Return how many were discarded and which key shows or hides them; nothing where none was."""
    if not count:
        return []
    does = "hides" if model.notes.show_discarded else "shows"
    words = f"    {count} discarded; {key('discarded')} {does} {'it' if count == 1 else 'them'}"
    return [text((words, FAINT))]


def _to_hand_over(model: Model, key: Callable[[str], str]) -> list[Text]:
    """Return how many keepers the session has and which key hands them over; nothing where none is."""
    count = model.notes.keepers
    if not count:
        return []
    several = "" if count == 1 else "s"
    them = "it" if count == 1 else "them"
    words = f"    {count} keeper{several} in the session; {key('hand_over')} hands {them} over"
    return [text((words, FAINT))]


def _unread(problem: str, columns: int) -> list[Text]:
    """Return why nothing is shown that was said; nothing where it is."""
    words = f"× what was said and discarded cannot be read: {problem}"
    return paragraph(words, columns) if problem else []


def _damaged(broken: tuple[Broken, ...], columns: int, rows: int) -> list[Text]:
    """Return why variants cannot be read; of thousands no more than could be seen."""
    return [line for one in broken[:rows] for line in paragraph(f"× {one.reason}", columns)]


def _one(model: Model, one: Summary, columns: int, *, here: bool) -> Text:
    said = model.notes.of(one.part, one.number)
    verdict = (
        f" {one.verdict.upper():4} ",
        FAINT if said.discarded else VERDICT_LOOKS[one.verdict],
    )
    peak = max((file.peak_dbfs for file in one.files), default=-200.0)
    cells = min(max(columns - REST_CELLS, 20), max(columns - REST_CELLS - CHOSEN_CELLS, 40), 60)
    look = HERE if here else FAINT if said.discarded else STRONG
    name = _name(said.called or model.notes.chain_of(one), made_of(one), cells)
    line = text(
        "  ▸ " if here else "    ",
        (f"{one.number:03d} {name}", look),
        "  ",
        verdict,
        "  ",
        (rating(said), FAINT if said.discarded else PLAIN),
        (f"  {level(peak)} dBFS  {one.made_at[11:16]}  ", FAINT),
        _state(one, said),
    )
    return line + _chosen(said, columns - line.cell_len)


def _chosen(said: Opinion, cells: int) -> Text:
    """Return who chose it of a hand-over, where there is room; below, at the cursor, there always is."""
    words = f"  {chosen_by(said)}"
    return text((words, FAINT)) if said.choices and cells_of(words) <= cells else text()


def _state(one: Summary, said: Opinion) -> tuple[str, Style]:
    """Return what sets it apart from a pass that was played to its end: first what somebody said."""
    if said.keeper is not None:
        return f"{KEPT} keeper", ACCENT
    return "discarded" if said.discarded else "" if one.state == "kept" else one.state, FAINT


def _name(name: str, apart: str, cells: int) -> str:
    """Return a name in so many cells; what sets the variant apart is never cut off by it."""
    if not apart:
        return cut(name, cells)
    behind = f", {apart}" if not apart.startswith("=") else f" {apart}"
    own = min(cells_of(name), max(cells - cells_of(behind), cells // 3))
    return cut(f"{cut(name, own)}{behind}", cells)


def _below(model: Model, one: Summary, columns: int, rows: int) -> list[Text]:
    """Return findings, what was said, and as much of the history as there is room for."""
    shown: list[Text] = []
    for finding in one.findings or ():
        shown += paragraph(told(finding), columns)
        if finding.advice:
            shown += paragraph(finding.advice, columns, FAINT, indent=3)
    if not one.findings:
        shown.append(text((" nothing to say against it", FAINT)))
    shown += said_lines(model.notes.of(one.part, one.number), one.chain.name, columns)
    happened = model.notes.happened(one.part, one.number)
    return [*shown, *history_lines(happened, columns, most=rows - len(shown))]


def told(finding: Finding) -> str:
    """Return a finding in one line: where, unless it says so itself, and what."""
    at = "" if finding.at_s is None else clock_time(finding.at_s)
    return finding.text if at in finding.text else f"{at} {finding.text}"
