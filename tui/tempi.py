"""The chosen part's bars and tempo, from what the screen knows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audio.grid.bars import bar_grid
from audio.jobs.sections import ANY_RATE
from audio.jobs.tempos import part_bpm

if TYPE_CHECKING:
    from audio.grid.bars import BarGrid
    from tui.model import Model


def chosen_grid(model: Model, *, rate: int) -> BarGrid | None:
    """Return where the song's bars lie in the chosen part's DI; None where nobody knows."""
    chosen, facts = model.chosen(), model.facts()
    if chosen is None:
        return None
    reference = facts.time_reference if facts is not None else 0
    tempo = model.tempo(chosen[0]).map
    return bar_grid(chosen[0], tempo=tempo, time_reference=reference, rate=rate)


def chosen_bpm(model: Model) -> float | None:
    """Return the tempo by which times of the chosen part are told: its first bar's; None without one."""
    chosen, facts = model.chosen(), model.facts()
    if chosen is None:
        return None
    return part_bpm(
        chosen[0],
        model.tempo(chosen[0]),
        time_reference=facts.time_reference if facts is not None else 0,
        rate=facts.sample_rate if facts is not None else ANY_RATE,
    )
