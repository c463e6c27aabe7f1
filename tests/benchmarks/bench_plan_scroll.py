"""The plan scrolls without a stall: a thousand lines, a key held down, in a pseudo terminal of two sizes.

The program itself stands at a plan of 50 chains × 20 parts, a variant for each of its thousand lines, and
nothing beside it plays. A key is held, thirty presses a second for some seconds: ``down`` goes line by
line, ``page down`` and ``page up`` by what is in sight, and in the table of parts and chains ``right`` and
``left`` walk from end to end. The event loop's worst stall is the longest callback in it, or how late a
timer came, whichever is more.

Goal: no stall over 50 ms. The share of a core and the pictures a second are for comparison.
"""

from __future__ import annotations

import report
from screen import cost

APPS = {"line by line": "by_lines", "page by page": "by_pages", "coverage": "coverage"}
SIZES = ((80, 24), (160, 50))
STALL_MS = 50.0


def main() -> None:
    """Measure all at both sizes and print the figures."""
    parser = report.options(__doc__)
    parser.add_argument("--seconds", type=float, default=8.0)
    said = parser.parse_args()
    seconds = 2.0 if said.short else said.seconds
    report.conditions(f"a plan of 1000 lines, a key held for {seconds:g} s")
    for columns, rows in SIZES:
        for name, app in APPS.items():
            took = cost(f"plan_screen:{app}", columns=columns, rows=rows, seconds=seconds)
            stall, head = took.worst_stall_ms, f"{columns}×{rows}, {name}"
            goal = f"under {STALL_MS:.0f} ms"
            report.figure(f"{head}: worst stall", f"{stall:.1f} ms", goal, stall < STALL_MS)
            report.figure(f"{head}: share of a core", f"{100.0 * took.share:.0f} %")
            report.figure(f"{head}: pictures a second", f"{took.pictures_per_s:.1f}")


if __name__ == "__main__":
    main()
