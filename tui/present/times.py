"""Note values at a tempo, in lines."""

from __future__ import annotations

from audio.jobs.times import Times

WIDTH = 76
"""Columns the whole table takes; under that it tells milliseconds only."""

_SHAPES = ("", "dotted ", "triplet ")


def times_lines(times: Times, *, columns: int = WIDTH) -> list[str]:
    """Return a table: each note plain, dotted and as a triplet, in milliseconds and in hertz.

    Parameters
    ----------
    times
        Note values at a tempo.
    columns
        What there is room for, 49 or more; hertz are left out where they do not fit.

    Returns
    -------
    list of str
        Two lines of heads, then one a note.
    """
    hz = columns >= WIDTH
    wide = 20 if hz else 11
    by_name = {one.name: one for one in times.notes}
    lines = [f"{'':<16}" + "".join(f"{shape.strip() or 'plain':>{wide}}" for shape in _SHAPES)]
    lines.append(f"{'':<16}" + (f"{'ms':>11}" + (f"{'Hz':>9}" if hz else "")) * len(_SHAPES))
    for name in (one.name for one in times.notes if " " not in one.name):
        cells = (by_name[f"{shape}{name}"] for shape in _SHAPES)
        told = (f"{one.ms:>11.1f}" + (f"{one.hz:>9.2f}" if hz else "") for one in cells)
        lines.append(f"{name:<16}" + "".join(told))
    return lines
