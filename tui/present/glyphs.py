"""Levels as block glyphs, and names cut to so many cells: what every moving picture is made of."""

from __future__ import annotations

from functools import lru_cache

from rich.cells import cell_len, set_cell_size

from audio.vocab.units import db_from_ratio
from tui.present.terminal import clean

FLOOR_DBFS = -60.0
"""Bottom of every scale here: under it lie an amp's noise and a dead cable (common practice, no source)."""

_SCALE = ((-20.0, 0.5), (-30.0, 0.3), (-40.0, 0.15), (-50.0, 0.075), (FLOOR_DBFS, 0.025))
"""Levels and where they stand on a scale from 0 to 1, straight lines between: IEC 60268-18, digital peak
level meters (from memory). Half of the scale is for the upper 20 dB, where playing lies."""

EIGHTHS = 8
"""Steps a block glyph knows in one cell."""

BASELINE = "·"
"""Stands where time has passed and nothing came."""

CLIPPED = "×"
"""Stands on top of a column in which a converter clipped."""

PLAYHEAD = "│"
HOLD = "│"

_UP = " ▁▂▃▄▅▆▇█"
_ACROSS = " ▏▎▍▌▋▊▉█"


def deflection(dbfs: float) -> float:
    """Return where a level stands on a scale, 0 (at −60 dBFS and under) to 1 (at 0 dBFS and over)."""
    if not dbfs > FLOOR_DBFS:
        return 0.0
    above, share = 0.0, 1.0
    for level, stands in _SCALE:
        if dbfs >= level:
            return min(1.0, stands + (dbfs - level) * (share - stands) / (above - level))
        above, share = level, stands
    return 0.0


def steps(dbfs: float, cells: int) -> int:
    """Return how many eighths of a cell a level fills, 0 to 8 · `cells`.

    Parameters
    ----------
    dbfs
        Level; −60 and less fill nothing, 0 and more fill all.
    cells
        Cells of the whole scale.

    Returns
    -------
    int
        At least 1 for anything above the floor, so that what arrives is seen.
    """
    share = deflection(dbfs)
    return max(1, round(share * EIGHTHS * cells)) if share else 0


def steps_of_ratio(ratio: float, cells: int) -> int:
    """Return how many eighths of a cell a linear level fills."""
    return steps(db_from_ratio(ratio), cells)


@lru_cache(512)
def column(filled: int, rows: int, *, clipped: bool = False, empty: str = " ") -> str:
    """Return one column of a lane, its glyphs from top to bottom.

    Parameters
    ----------
    filled
        Eighths of a cell, as `steps` gives them.
    rows
        Rows of the lane.
    clipped
        Marks the top cell.
    empty
        Stands in the bottom cell where nothing is filled.

    Returns
    -------
    str
        One glyph for each row.
    """
    glyphs = [
        _UP[max(0, min(EIGHTHS, filled - EIGHTHS * below))] for below in range(rows - 1, -1, -1)
    ]
    if not filled:
        glyphs[-1] = empty
    if clipped:
        glyphs[0] = CLIPPED
    return "".join(glyphs)


@lru_cache(4096)
def bar(filled: int, held: int, cells: int) -> tuple[str, str, str]:
    """Return a meter's bar, in three pieces: what is filled, the tick of the peak hold, what is empty.

    Parameters
    ----------
    filled
        Eighths of a cell.
    held
        Eighths of a cell of the largest level so far; no tick while the bar itself reaches there.
    cells
        Cells of the bar.

    Returns
    -------
    tuple of str
        Together exactly `cells` wide; the first may end in spaces, the tick may be empty.
    """
    whole, part = divmod(filled, EIGHTHS)
    full = "█" * whole + (_ACROSS[part] if part else "")
    tick = min((held - 1) // EIGHTHS, cells - 1) if held else -1
    if tick < len(full):
        return full, "", " " * (cells - len(full))
    return full + " " * (tick - len(full)), HOLD, " " * (cells - tick - 1)


def cut(words: str, cells: int) -> str:
    """Return words of anybody's, safe for a terminal, in exactly so many cells; an ellipsis where cut."""
    safe = clean(words)
    if cells <= 0:
        return ""
    if cell_len(safe) <= cells:
        return safe + " " * (cells - cell_len(safe))
    return set_cell_size(safe, cells - 1) + "…"


def cells_of(words: str) -> int:
    """Return how many cells words of anybody's take once they are safe for a terminal."""
    return cell_len(clean(words))
