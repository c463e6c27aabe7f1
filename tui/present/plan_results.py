"""The plan in lines for the command line: what comes next, what to touch, and what is covered."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from types import MappingProxyType

from audio.jobs.planned import PlanSeen
from audio.plan.coverage import Coverage
from audio.vocab.plan import PlanLine, PlanNow
from audio.vocab.units import clock_time
from tui.present.check_words import unready_words
from tui.present.terminal import clean, tell, width, wrapped
from tui.present.touch import UNKNOWN, touches

EMPTY = """\
There is no plan yet. Add to it:
  secondpass plan DIR --part rhythm-left hook --chain crunch 'fuzz into delay'
or write plan.yaml in the session's folder."""

TOUCH_INDENT = 12


def tell_plan(seen: PlanSeen) -> None:
    """Print the plan as it stands."""
    lines = (
        plan_text(seen.plan, width(sys.stdout), seen.unready)
        if seen.plan.lines
        else EMPTY.split("\n")
    )
    if seen.coverage.chains:
        lines += ["", *coverage_text(seen.coverage, width(sys.stdout))]
    for line in lines:
        tell(line)


def plan_text(
    plan: PlanNow, columns: int, unready: Mapping[str, int] = MappingProxyType({})
) -> list[str]:
    """Return the plan's lines, each with what has to be touched under it, and what it costs."""
    shown = []
    for number, line in enumerate(plan.lines, start=1):
        shown += _line(number, line, columns)
        if line.state == "to do" and line.touch:
            shown += wrapped(touches(line.touch), columns=columns, indent=TOUCH_INDENT)
        if line.state == "to do" and not line.known:
            shown += wrapped(UNKNOWN, columns=columns, indent=TOUCH_INDENT)
        if line.state == "to do" and (count := unready.get(line.wanted.part)):
            words = unready_words(line.wanted.part, count)
            shown += wrapped(words, columns=columns, indent=TOUCH_INDENT)
        if line.why:
            shown += wrapped(line.why, columns=columns, indent=TOUCH_INDENT)
    return [*shown, "", *wrapped(cost_words(plan), columns=columns, indent=0)]


def cost_words(plan: PlanNow) -> str:
    """Return how many passes are left and what the order costs, in one sentence."""
    left = sum(1 for line in plan.lines if line.state == "to do")
    if not left:
        return "Nothing is left to do."
    passes = "1 pass" if left == 1 else f"{left} passes"
    order = "in the order made by hand" if plan.by_hand else "in this order"
    least = "; no order costs less" if plan.exact else ""
    return (
        f"{passes} left: {plan.cost:g} points of replugging {order}, {plan.written_cost:g} in the order"
        f" written{least}."
    )


def _line(number: int, line: PlanLine, columns: int) -> list[str]:
    """Return one line; what does not fit goes on below, so that no verdict is ever cut off."""
    wanted = line.wanted
    where = f", {wanted.section}" if wanted.section is not None else ""
    again = f" ({wanted.time})" if wanted.time > 1 else ""
    took = f"  took {clock_time(line.took_s)}" if line.took_s is not None else ""
    verdict = f"  {line.number:03d} {line.verdict}" if line.number and line.verdict else ""
    head = f"{number:4}  {line.state:8} "
    what = f"{wanted.part} through {wanted.chain}{where}{again}{verdict}{took}"
    rows = wrapped(what, columns=columns, indent=len(head))
    rows[0] = f"{head}{rows[0].lstrip()}"
    return [row[:columns] for row in rows]


def coverage_text(table: Coverage, columns: int) -> list[str]:
    """Return the table, as many chains beside one another as fit, the others below in blocks."""
    names = max(len(clean(part)) for part in table.parts) if table.parts else 0
    widths = {chain: _cells(table, chain) for chain in table.chains}
    blocks: list[list[str]] = [[]]
    used = names
    for chain in table.chains:
        if blocks[-1] and used + 2 + widths[chain] > columns:
            blocks.append([])
            used = names
        blocks[-1].append(chain)
        used += 2 + widths[chain]
    lines: list[str] = []
    for block in blocks:
        lines += [""] if lines else []
        head = "".join(f"  {clean(chain):<{widths[chain]}}" for chain in block)
        lines.append(f"{'':<{names}}{head}"[:columns].rstrip())
        for part in table.parts:
            row = "".join(
                f"  {table.cell(part, chain).words or '–':<{widths[chain]}}" for chain in block
            )
            lines.append(f"{clean(part):<{names}}{row}"[:columns].rstrip())
    return lines


def _cells(table: Coverage, chain: str) -> int:
    words = (table.cell(part, chain).words for part in table.parts)
    return max(len(clean(chain)), *(len(word) for word in words), 1)
