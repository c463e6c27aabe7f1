"""What the screen takes of one core while a pass rolls, in a pseudo terminal of two sizes.

Two apps, unless ``--app module:function`` names one. `rolling_screen` is what moves, alone: sixteen returns
and the send as lanes with a meter each, time left in large letters, all fed thirty times a second for ten
seconds. `whole_program` is the program itself, playing a pass by the clock through sixteen returns of the
simulated room: the process of the screen alone, as engine and workers have their own. The event loop's
worst stall is the longest callback in it, or how late a timer came, whichever is more.

Goals: under 14 % of a core on 160×50 cells and under 8 % on 80×24; no stall of 35 ms; at least 29 pictures
a second. Bytes a second are what a terminal has to swallow, and the same screen standing still is what the
library takes by itself; both are for comparison.
"""

from __future__ import annotations

import report
from screen import Cost, cost

APPS = ("rolling_screen:RollingScreen", "whole_program:sixteen_returns")
GOALS = {(160, 50): 0.14, (80, 24): 0.08}
STALL_MS = 35.0
PICTURES_PER_S = 29.0


def main() -> None:
    """Measure both sizes and print the figures."""
    parser = report.options(__doc__)
    parser.add_argument("--app", metavar="MODULE:FUNCTION")
    parser.add_argument("--seconds", type=float, default=10.0)
    said = parser.parse_args()
    seconds = 2.0 if said.short else said.seconds
    for app in (said.app,) if said.app else APPS:
        report.conditions(f"{app}, {seconds:g} s each")
        for (columns, rows), goal in GOALS.items():
            took = cost(app, columns=columns, rows=rows, seconds=seconds)
            show(took, f"{columns}×{rows}", goal)
    still = cost("rolling_screen:standing", columns=160, rows=50, seconds=min(seconds, 3.0))
    report.figure("160×50, standing still: share of a core", f"{100.0 * still.share:.1f} %")


def show(took: Cost, size: str, goal: float) -> None:
    """Print what one size took."""
    report.figure(
        f"{size}: share of a core",
        f"{100.0 * took.share:.1f} %",
        f"under {100.0 * goal:.0f} %",
        took.share < goal,
    )
    stall = took.worst_stall_ms
    report.figure(
        f"{size}: worst stall", f"{stall:.1f} ms", f"under {STALL_MS:.0f} ms", stall < STALL_MS
    )
    rate = took.pictures_per_s
    report.figure(
        f"{size}: pictures a second",
        f"{rate:.1f}",
        f"at least {PICTURES_PER_S:.0f}",
        rate >= PICTURES_PER_S,
    )
    report.figure(f"{size}: time without a free core", f"{100.0 * took.waited:.1f} %")
    report.figure(f"{size}: written to the terminal", f"{took.bytes_per_s / 1e3:.0f} kB/s")


if __name__ == "__main__":
    main()
