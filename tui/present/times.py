"""Note values at a tempo, in lines."""

from __future__ import annotations

from audio.jobs.times import Times


def times_lines(times: Times) -> list[str]:
    """Return a table: each note plain, dotted and as a triplet, in milliseconds and in hertz."""
    names = [one.name for one in times.notes if " " not in one.name]
    by_name = {one.name: one for one in times.notes}
    shapes = ("", "dotted ", "triplet ")
    head = f"{'':<16}" + "".join(f"{shape.strip() or 'plain':>20}" for shape in shapes)
    lines = [head, f"{'':<16}" + f"{'ms':>11}{'Hz':>9}" * len(shapes)]
    for name in names:
        cells = (by_name[f"{shape}{name}"] for shape in shapes)
        lines.append(f"{name:<16}" + "".join(f"{one.ms:>11.1f}{one.hz:>9.2f}" for one in cells))
    return lines
