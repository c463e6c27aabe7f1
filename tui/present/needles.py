"""What a meter shows: a bar that falls calmly, a number that can be read, a hold and a latch that stay."""

from __future__ import annotations

from rich.style import Style

from audio.vocab.units import SILENCE_DBFS, db_from_ratio
from tui.present.glyphs import FLOOR_DBFS, bar, steps
from tui.present.looks import BAD, FAINT, PLAIN, STRONG
from tui.present.plain import level

FALL_DB_S = 20.0 / 1.7
"""A bar falls 20 dB in 1.7 s (IEC 60268-10, type I; from memory); it rises at once."""

READ_EVERY_S = 0.2
"""A number changes five times a second at most: nobody reads faster (common practice, no source)."""

NOTHING = level(SILENCE_DBFS)
NUMBER_CELLS = len(NOTHING)
CLIP = "CLIP"
_CLIP_LOOK = BAD + Style(reverse=True)


class Needle:
    """One meter between two pictures."""

    def __init__(self) -> None:
        self.bar_dbfs = SILENCE_DBFS
        self.held_dbfs = SILENCE_DBFS
        self.number = NOTHING
        """The largest level of the last fifth of a second, six cells."""
        self.clipped = False
        self._taken_s: float | None = None
        self._read_s = 0.0
        self._largest = 0.0
        self._held = 0.0
        self._held_for = (SILENCE_DBFS, 0)
        self._held_at = 0
        self._clips = 0
        self._forgiven = 0

    def take(self, *, peak: float, held: float, clips: int, now_s: float) -> None:
        """Take a level in.

        Parameters
        ----------
        peak
            Linear, of the last 50 ms.
        held
            Linear, the largest since the roll began.
        clips
            Samples at full scale since the roll began.
        now_s
            Any clock that does not go back, seconds.
        """
        now_dbfs = db_from_ratio(peak)
        passed_s = 0.0 if self._taken_s is None else now_s - self._taken_s
        fallen = self.bar_dbfs - FALL_DB_S * passed_s
        self.bar_dbfs = max(now_dbfs, fallen if fallen > FLOOR_DBFS else SILENCE_DBFS)
        if held != self._held:
            self._held, self.held_dbfs = held, db_from_ratio(held)
        self._read(peak, now_s)
        self._latch(clips)
        self._taken_s = now_s

    def rest(self, now_s: float) -> None:
        """Let the bar fall where no level comes any more; what was held and latched stays."""
        self.take(peak=0.0, held=self._held, clips=self._clips, now_s=now_s)

    def _read(self, peak: float, now_s: float) -> None:
        self._largest = max(self._largest, peak)
        if self._taken_s is None or now_s - self._read_s >= READ_EVERY_S:
            self.number = level(db_from_ratio(self._largest))
            self._read_s, self._largest = now_s, 0.0

    def _latch(self, clips: int) -> None:
        if clips < self._clips:  # another roll counts from 0
            self._forgiven = 0
        self._clips = clips
        self.clipped = self.clipped or clips > self._forgiven

    def clear_clip(self) -> None:
        """Let the latch go; it closes again at the next clipped sample."""
        self.clipped = False
        self._forgiven = self._clips

    def key(self, cells: int) -> tuple[int, int, str, bool]:
        """Return what tells two drawings of it apart, with a bar of so many cells."""
        filled = steps(self.bar_dbfs, cells) if cells else 0
        return filled, self._held_steps(cells), self.number, self.clipped

    def _held_steps(self, cells: int) -> int:
        if self._held_for != (self.held_dbfs, cells):
            self._held_for = (self.held_dbfs, cells)
            self._held_at = steps(self.held_dbfs, cells) if cells else 0
        return self._held_at

    def pieces(self, cells: int) -> list[tuple[str, Style]]:
        """Return bar, number and latch, in `meter_cells` of so many cells for the bar."""
        filled, held, number, clipped = self.key(cells)
        full, tick, rest = bar(filled, held, cells) if cells else ("", "", "")
        figures = f"{rest} {number} " if cells else f"{number} "
        if clipped:
            return [(full, FAINT), (tick, STRONG), (figures, PLAIN), (CLIP, _CLIP_LOOK)]
        return [(full, FAINT), (tick, STRONG), (figures + " " * len(CLIP), PLAIN)]


def meter_cells(cells: int) -> int:
    """Return the cells of a whole meter with a bar of so many."""
    return (cells + 1 if cells else 0) + NUMBER_CELLS + 1 + len(CLIP)
