"""The plan in lines for the screen: only those in sight are ever made."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rich.style import Style
from rich.text import Text

from audio.plan.coverage import Coverage
from audio.vocab.plan import LineState, PlanLine, PlanNow
from audio.vocab.units import clock_time
from tui.present.check_words import unready_words
from tui.present.glyphs import cells_of, cut
from tui.present.looks import (
    BAD,
    CARE,
    FAINT,
    HERE,
    PLAIN,
    STRONG,
    VERDICT_LOOKS,
    in_sight,
    paragraph,
    text,
)
from tui.present.touch import UNKNOWN, touches

STATE_LOOKS = {"to do": STRONG, "done": FAINT, "skipped": FAINT, "cannot": CARE}

STATES: dict[LineState, str] = {"to do": "□", "done": "■", "skipped": "–", "cannot": "▲"}
"""A shape beside each word."""

WIDE = 110
"""Columns from which what has to be touched stands beside each line, and not only below for one."""


Unready = Callable[[str], int]
"""How many open findings the DI of a part has that will spoil a pass."""


def plan_rows(plan: PlanNow, columns: int, rows: int, *, at: int, unready: Unready) -> list[Text]:
    """Return the lines around one, in at most so many rows."""
    return [
        _row(plan.lines[number], number + 1, columns, here=number == at, unready=unready)
        for number in in_sight(len(plan.lines), at, rows)
    ]


def about(line: PlanLine, columns: int, *, unready: Unready) -> list[Text]:
    """Return what is to be said of the line under the cursor: what to touch, or why it cannot be played."""
    if line.why:
        return paragraph(f"▲ {line.why}", columns, CARE)
    if line.state != "to do":
        return [text((" nothing to touch: it is not played now", FAINT))]
    if count := unready(line.wanted.part):
        return paragraph(f"× {unready_words(line.wanted.part, count)}", columns, BAD)
    if not line.known:
        return paragraph(f"to touch: {UNKNOWN}", columns, PLAIN)
    words = touches(line.touch) or "nothing to touch after the line before"
    return paragraph(f"to touch: {words}", columns, PLAIN if line.touch else FAINT)[:4]


def cost_line(plan: PlanNow) -> str:
    """Return what is left and what it costs, in one line of 80 cells."""
    left = sum(1 for line in plan.lines if line.state == "to do")
    whose = " in your order" if plan.by_hand else ""
    least = ", none costs less" if plan.exact and not plan.by_hand else ""
    return (
        f"{left} left · replugging {plan.cost:g}{whose}{least} · {plan.written_cost:g} as written"
    )


def _row(line: PlanLine, number: int, columns: int, *, here: bool, unready: Unready) -> Text:
    wanted = line.wanted
    look = HERE if here else STATE_LOOKS[line.state]
    section = f", {wanted.section}" if wanted.section is not None else ""
    again = f" ({wanted.time})" if wanted.time > 1 else ""
    names = 40 if columns < WIDE else 46
    called = cut(f"{wanted.part} through {wanted.chain}{section}{again}", names)
    shown = text(
        " ▸ " if here else "   ",
        (f"{number:>3} ", FAINT),
        _state(line, unready),
        (called, look),
        " ",
        (f"{_touch_count(line):<7}", FAINT),
    )
    if line.number is not None and line.verdict is not None:
        shown += text(
            f"{line.number:03d} ", (f"{line.verdict.upper():<4}", VERDICT_LOOKS[line.verdict])
        )
    else:
        shown += text(" " * 8)
    shown += text((f" {clock_time(line.took_s)}" if line.took_s is not None else "", FAINT))
    if columns >= WIDE and line.touch and line.state == "to do":
        room = columns - shown.cell_len - 3
        shown += text((f"  {cut(touches(line.touch), max(room, 8))}", FAINT))
    return shown


def _state(line: PlanLine, unready: Unready) -> tuple[str, Style]:
    if line.state == "to do" and unready(line.wanted.part):
        return f"× {'mend DI':<8}", BAD
    return f"{STATES[line.state]} {line.state:<8}", STATE_LOOKS[line.state]


def _touch_count(line: PlanLine) -> str:
    if line.state != "to do":
        return ""
    if not line.known:
        return "unknown"
    return f"touch {len(line.touch)}" if line.touch else "as is"


def coverage_rows(table: Coverage, columns: int, rows: int, *, first: int, top: int) -> list[Text]:
    """Return the table of parts and chains, from one chain and one part on.

    Parameters
    ----------
    table
        What is covered.
    columns
        Cells there are.
    rows
        Rows there are.
    first
        Index of the first chain that is shown.
    top
        Index of the first part that is shown.

    Returns
    -------
    list of Text
        A head, then a row a part.
    """
    parts = table.parts[top : top + max(rows - 2, 0)]
    names = min(max((cells_of(part) for part in parts), default=4), 24)
    chains = _fitting(table, parts, columns - names - 4, first)
    head = text(f" {'':<{names}}  ")
    for chain, cells in chains:
        head += text((cut(chain, cells) + "  ", STRONG))
    shown = [head]
    for part in parts:
        row = text(f" {cut(part, names)}  ")
        for chain, cells in chains:
            words = table.cell(part, chain).words
            row += text((f"{words or '·':<{cells}}  ", PLAIN if words else FAINT))
        shown.append(row)
    more = len(table.chains) - first - len(chains)
    return [*shown, text((f" {more} chains more to the right", FAINT))] if more > 0 else shown


def _fitting(table: Coverage, parts: Sequence[str], room: int, first: int) -> list[tuple[str, int]]:
    found: list[tuple[str, int]] = []
    for chain in table.chains[first:]:
        words = [len(table.cell(part, chain).words) for part in parts]
        cells = max([min(cells_of(chain), 20), *words, 3])
        room -= cells + 2
        if room < 0 and found:
            break
        found.append((chain, cells))
    return found
