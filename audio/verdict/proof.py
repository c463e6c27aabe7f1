"""Which evidence there is that no frame was lost: loop, witness, clicks, music, counters, in this order."""

from __future__ import annotations

from typing import NamedTuple

from audio.verdict.case import Case, Change, usable
from audio.vocab.alignment import Alignment, Proof
from audio.vocab.results import ClickReading


class Cable(NamedTuple):
    """A loop or a witness: what it recorded of the DI, and what it heard of the clicks."""

    name: Proof
    alignment: Alignment | None
    opening: ClickReading | None
    change: Change | None


def strongest(case: Case) -> Proof:
    """Return the strongest evidence there was of whether a frame is missing."""
    cable = strongest_cable(case)
    if cable is not None:
        return cable.name
    here = case.here
    if here is not None and here.sharp:
        return "clicks"
    return "counters" if case.music is None else "music"


def strongest_cable(case: Case) -> Cable | None:
    """Return the strongest cable that proves anything, None where there is none."""
    order, measures = case.order, case.measures
    loop = Cable("loop", usable(measures.loop), order.loop_click, case.loop_change)
    witness = Cable("witness", usable(measures.witness), order.witness_click, case.witness_change)
    told = (c for c in (loop, witness) if c.alignment or (c.change and c.change.sharp))
    return next(told, None)
