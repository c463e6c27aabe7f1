"""Which parts have been played through which chains: parts down, chains across; for reading."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from audio.plan.lines import Answer
from audio.vocab.findings import Verdict
from audio.vocab.names import twin_key
from audio.vocab.plan import PlanNow

_BEST_FIRST: tuple[Verdict, ...] = ("good", "look", "redo")


class Cell(msgspec.Struct, frozen=True, kw_only=True):
    """One part through one chain."""

    variants: int = 0
    """Of the whole part; neither discarded nor stopped."""
    sections: int = 0
    """The same of stretches of it."""
    best: Verdict | None = None
    """The best verdict of the whole part's."""
    wanted: int = 0
    """Lines of the plan that are still to do."""

    @property
    def words(self) -> str:
        """Count and word, such as ``2 good``; what is still wanted as ``1 to do``; empty for nothing."""
        done = f"{self.variants} {self.best}" if self.variants else ""
        part = f"{self.sections} part" if self.sections else ""
        todo = f"{self.wanted} to do" if self.wanted else ""
        return ", ".join(word for word in (done, part, todo) if word)


class Coverage(msgspec.Struct, frozen=True, kw_only=True):
    """The table."""

    parts: tuple[str, ...]
    chains: tuple[str, ...]
    cells: dict[str, dict[str, Cell]]
    """By part, then chain; where nothing was played or is wanted there is none."""

    def cell(self, part: str, chain: str) -> Cell:
        """Return a cell; an empty one where there is nothing."""
        return self.cells.get(part, {}).get(chain, Cell())


def coverage(parts: Sequence[str], answers: Iterable[Answer], plan: PlanNow) -> Coverage:
    """Return the table.

    Parameters
    ----------
    parts
        Of the session, in its order.
    answers
        All variants.
    plan
        What is wanted.

    Returns
    -------
    Coverage
        Its chains as the plan offers them, then the others as they were played; capitals do not tell two
        chains apart.
    """
    cells: dict[str, dict[str, Cell]] = {part: {} for part in parts}
    chains = {twin_key(line.wanted.chain): line.wanted.chain for line in plan.lines}
    for one in answers:
        if one.counts and one.part in cells:
            chain = chains.setdefault(twin_key(one.chain), one.chain)
            cells[one.part][chain] = _with(cells[one.part].get(chain, Cell()), one)
    for line in plan.lines:
        row = cells.get(line.wanted.part)
        if row is not None and line.state == "to do":
            cell = row.get(line.wanted.chain, Cell())
            row[line.wanted.chain] = msgspec.structs.replace(cell, wanted=cell.wanted + 1)
    return Coverage(parts=tuple(parts), chains=tuple(chains.values()), cells=cells)


def _with(cell: Cell, one: Answer) -> Cell:
    if one.section:
        return msgspec.structs.replace(cell, sections=cell.sections + 1)
    known = [verdict for verdict in (cell.best, one.verdict) if verdict is not None]
    best = min(known, key=_BEST_FIRST.index)
    return msgspec.structs.replace(cell, variants=cell.variants + 1, best=best)
