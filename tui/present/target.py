"""A figure against its target, as a bar of single cells: words stand beside it, no colour is needed."""

from __future__ import annotations

from audio.vocab.setup import Row

OUTSIDE, INSIDE, MARK = "·", "━", "█"
BEFORE, BEHIND = "◂", "▸"

_AROUND = 1.0
"""How far the bar reaches beyond the target on each side, in widths of the target."""


COLUMNS = "▁▂▃▄▅▆▇"
BAND_SPAN_DB = 3.0
"""What the lowest and the highest column stand for; the one in the middle is no change."""


def band_columns(bands_db: tuple[float | None, ...]) -> str:
    """Return a column for each band: half a cell high where it is as then, none where nothing is known."""
    return "".join(" " if one is None else COLUMNS[_column(one)] for one in bands_db)


def _column(db: float) -> int:
    share = (db + BAND_SPAN_DB) / (2.0 * BAND_SPAN_DB)
    return min(max(round(share * (len(COLUMNS) - 1)), 0), len(COLUMNS) - 1)


def target_bar(row: Row, cells: int) -> str:
    """Return where a figure lies.

    Parameters
    ----------
    row
        A figure with both ends of its target.
    cells
        Cells there are, 9 or more.

    Returns
    -------
    str
        So many cells: the target in the middle third, the figure's mark in or beside it, an arrow at the
        end where it lies beyond; empty where there is no such target.
    """
    if row.low is None or row.high is None:
        return ""
    width = row.high - row.low
    first, whole = row.low - _AROUND * width, (1.0 + 2.0 * _AROUND) * width
    bar = [INSIDE if _is_between(i, cells, row, first, whole) else OUTSIDE for i in range(cells)]
    if row.value is not None:
        at = int((row.value - first) / whole * cells)
        bar[min(max(at, 0), cells - 1)] = BEFORE if at < 0 else BEHIND if at >= cells else MARK
    return "".join(bar)


def _is_between(cell: int, cells: int, row: Row, first: float, whole: float) -> bool:
    middle = first + (cell + 0.5) / cells * whole
    return (row.low or 0.0) <= middle <= (row.high or 0.0)
