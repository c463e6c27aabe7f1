"""Where lanes stand: how high each is, which fit, and where it is said that some do not."""

from __future__ import annotations

from dataclasses import dataclass

HIGHEST = 7
"""Rows of a lane at most: more show no more."""

RULER_ROWS = 1


@dataclass(frozen=True, slots=True)
class LanePlaces:
    """Lanes on rows; row 0 is the ruler."""

    shown: int
    """Lanes that are drawn."""
    height: int
    """Rows of a lane."""
    pitch: int
    """Rows from one lane to the next, the free one between them included where there is one."""
    more_row: int | None
    """The row that tells of lanes without room."""

    def rows_of(self, lane: int) -> range:
        """Return the rows of a lane."""
        top = RULER_ROWS + lane * self.pitch
        return range(top, top + self.height)

    def at(self, y: int) -> tuple[int, int] | None:
        """Return the lane in a row and which of its rows that is; None between and below lanes."""
        lane, inner = divmod(y - RULER_ROWS, self.pitch)
        if y < RULER_ROWS or lane >= self.shown or inner >= self.height:
            return None
        return lane, inner

    @property
    def words_row(self) -> int:
        """Which row of a lane has its name and number; what goes with them stands in the next one."""
        return max(self.height - 2, 0)


def places(lanes: int, rows: int) -> LanePlaces:
    """Return where so many lanes stand on so many rows; those that do not fit are told in the last row."""
    room = max(rows - RULER_ROWS, 0)
    if lanes > room:
        return LanePlaces(max(room - 1, 0), 1, 1, rows - 1 if room else None)
    pitch = min(room // lanes, HIGHEST + 1) if lanes else 1
    height = pitch if pitch <= 2 else pitch - 1  # from three rows on one stays free between lanes
    return LanePlaces(lanes, height, pitch, None)
