"""One file in a waveform: its outline, the single samples that were fetched of it, and how it is drawn."""

from __future__ import annotations

from collections.abc import Sequence

from audio.vocab.results import Outlines
from tui.present import wave_cells, waves
from tui.present.hit_marks import Mark
from tui.present.wave_view import Look
from tui.present.waves import Closeup, Column

LEAST_TOP = 10 ** (-48 / 20)
"""A file is drawn as high as its own peak, but nothing under −48 dBFS: noise alone shall look like it."""


class Lane:
    """One file, on the view's time axis.

    Parameters
    ----------
    outlines
        As the worker made it.
    shift
        Frame of the view's file beside which this one's first frame lies.
    """

    def __init__(self, outlines: Outlines, *, shift: int = 0) -> None:
        self.outlines = outlines
        self.shift = shift
        self.marks: Sequence[Mark] = ()
        """Hits, in this file's frames."""
        self.top = max(waves.loudest(outlines, 0, outlines.frames), LEAST_TOP)
        self._closeup: Closeup | None = None
        self._asked: tuple[int, int] | None = None

    def closeup(self, at_frame: int, samples: bytes) -> None:
        """Take single samples in."""
        self._closeup = Closeup(at_frame, samples)
        if self._asked is not None and self._asked[0] == at_frame:  # else another is on its way
            self._asked = None

    def cells(self, look: Look, *, rows: int) -> list[list[wave_cells.Cell]]:
        """Return the rows of the file in a view of the first file."""
        return wave_cells.cells(self._columns(look), rows=rows, top=self.top)

    def wanted(self, look: Look) -> tuple[int, int] | None:
        """Return first frame and number of the single samples to be fetched now; None where none are.

        They are asked for once.
        """
        mine = self._mine(look)
        if mine is None or not waves.needs_closeup(self.outlines, mine):
            self._asked = None
            return None
        if self._closeup is not None and self._closeup.covers(mine):
            return None
        if self._asked is not None and _within(mine, *self._asked):
            return None
        self._asked = waves.wanted(mine)
        return self._asked

    def shown_marks(self) -> list[Mark]:
        """Return the hits in frames of the view's file."""
        if not self.shift:
            return list(self.marks)
        return [
            Mark(
                one.frame + self.shift,
                None if one.should is None else one.should + self.shift,
                one.counts,
                one.fault,
            )
            for one in self.marks
        ]

    def _columns(self, look: Look) -> list[Column]:
        mine = self._mine(look)
        if mine is None:
            return [None] * look.width
        lead = look.width - mine.width
        return [None] * lead + waves.columns(self.outlines, self._closeup, mine)

    def _mine(self, look: Look) -> Look | None:
        """Return the view in this file, from its left edge on as wide as it has frames; None without."""
        column = look.column - round(self.shift / look.scale)
        lead = max(-column, 0)
        mine = Look(self.outlines.frames, look.width - lead, look.scale, max(column, 0))
        return mine if lead < look.width and mine.filled > 0 else None


def _within(look: Look, at_frame: int, frames: int) -> bool:
    return at_frame <= int(look.first) and look.end <= at_frame + frames
