"""A plan of a thousand lines: how soon it is made, and whether the screen follows an arrow that is held.

The session has one part and a thousand wanted passes through fifty chains of one to five pedals, a third of
them skipped by lines of the journal. Goals: the plan as it stands, its order remembered, under 50 ms of
processor time; with the arrow held (a press each 33 ms) no move of the cursor drawn later than 50 ms, wall
time, on 80×24 and 160×50 cells.
"""

from __future__ import annotations

import gc
import random
import re
import tempfile
import time
from pathlib import Path

import report
from evening import COMMAND, PART, new_session, simulated
from pseudo_terminal import OnTerminal, on_terminal, words

from audio.jobs.snapshots import planned
from audio.session import plans
from audio.session.catalogue import Catalogue
from audio.session.folder import open_session

CHAINS, TIMES = 50, 20
SIZES = ((80, 24), (160, 50))
HELD_S, GOAL_MS = 0.033, 50.0
PRESSES, SHORT_PRESSES = 240, 40
DOWN, UP = b"\x1b[B", b"\x1b[A"
POOL = ("fuzz", "drive", "wah", "delay", "tremolo", "compressor", "reverb", "boost")
MOVED = re.compile(r"▸ +\d+ ")
"""The line under the cursor."""


def main() -> None:
    """Print the figures."""
    said = report.options(__doc__).parse_args()
    presses = SHORT_PRESSES if said.short else PRESSES
    with tempfile.TemporaryDirectory(prefix="bench-plan-") as folder:
        session = new_session(Path(folder), simulated(1), seconds=2.0)
        fill(session)
        report.conditions(f"{CHAINS * TIMES} lines through {CHAINS} chains")
        made(session)
        for columns, rows in SIZES:
            scrolled(session, presses, columns=columns, rows=rows)


def fill(folder: Path) -> None:
    """Write chains, plan, and what was skipped."""
    dice = random.Random(21_500)  # noqa: S311 - the same evening every time
    (folder / "chains").mkdir()
    names = [f"sound {number:02d}" for number in range(CHAINS)]
    for name in names:
        pedals = "".join(
            f"  - {{pedal: {pedal}, knobs: {{level: {dice.randint(0, 9)}}}}}\n"
            for pedal in dice.sample(POOL, dice.randint(1, 5))
        )
        text = f"name: {name}\npedals:\n{pedals}"
        (folder / "chains" / f"{name.replace(' ', '-')}.yaml").write_text(text)
    entry = f"  - {{part: {PART}, chains: all, times: {TIMES}}}\n"
    (folder / "plan.yaml").write_text("passes:\n" + entry)
    session = open_session(folder)
    for line in planned(session, Catalogue()).plan.lines:
        if dice.random() < 1 / 3:
            plans.skip(session, line.wanted.key, skipped=True)


def made(folder: Path) -> None:
    """Make the plan again and again, as each picture of the session does."""
    session, catalogue = open_session(folder), Catalogue()
    began = time.process_time()
    planned(session, catalogue)
    first_ms = 1e3 * (time.process_time() - began)
    gc.collect()
    gc.freeze()  # as the program does once it is mounted
    taken = []
    for _ in range(20):
        began = time.process_time()
        planned(session, catalogue)
        taken.append(1e3 * (time.process_time() - began))
    worst = max(taken)
    report.figure("the plan for the first time", f"{first_ms:.0f} ms")
    report.figure("the plan again, worst of 20", f"{worst:.1f} ms", "under 50 ms", worst < GOAL_MS)


def scrolled(folder: Path, presses: int, *, columns: int, rows: int) -> None:
    """Hold the arrow down, then up again."""
    with on_terminal([COMMAND, "open", folder], columns=columns, rows=rows) as one:
        one.until_words("▸chain")
        one.rest(1.0)
        one.press(b"l")
        one.until_words("left ·")
        one.rest(1.0)
        taken = sorted(held(one, DOWN if at < presses // 2 else UP) for at in range(presses))
        one.quit(b"q")
    name = f"{columns}×{rows}: arrow held, worst of {presses}"
    report.figure(name, f"{taken[-1]:.1f} ms", "under 50 ms", taken[-1] < GOAL_MS)
    report.figure(f"{columns}×{rows}: median", f"{taken[presses // 2]:.1f} ms")


def held(one: OnTerminal, key: bytes) -> float:
    """Press as a held key does; return the milliseconds until the moved cursor was drawn."""
    one.forget()
    pressed_s = one.press(key)
    taken_s = one.until(lambda written: MOVED.search(words(written))) - pressed_s
    one.rest(max(HELD_S - taken_s, 0.0))
    return 1e3 * taken_s


if __name__ == "__main__":
    main()
