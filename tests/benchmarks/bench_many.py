"""A session of ten thousand variants: is it as quick as an empty one?

One pass is really played in the simulated room, the others are told after it (see ``many.py``): by
default 20 parts through 25 chains, 20 variants each, in a temporary folder that goes away. ``--variants``
makes it larger or smaller, ``--parts 1`` puts all into one part (the goal for siblings is not made for
that), ``--seed`` draws another session; the seed stands with the figures. Each job of
the face runs in a process of its own that loads nothing of this script; the files are in the system's
cache, as after a first look. In brackets: the same session as it was after its first pass.

Goals of the face are of its own processor time: wall time on a machine that others use tells of them, and
stands behind for comparison. Open (runner made to session ready) under 2 s; looked at again after a pass
under 200 ms; a number claimed under 50 ms; siblings read and the verdict within 0.1 s of the small
session's; `secondpass pass` gets to its part within 0.25 s of the small session's; closed under 0.5 s; the
face under 300 MB and without numpy. The screen's are of wall time: 95 of 100 moves of the cursor on the
variants stage drawn within 50 ms, and with the arrow held (a press each 33 ms) none later than that.
Of up to a thousand variants (``--variants 1000 --parts 1``) the first full picture, with all that was said
of them, stands within 0.5 s of wall time.
"""

from __future__ import annotations

import json
import os
import queue
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import report
from processes import MB, rss_bytes
from pseudo_terminal import OnTerminal, on_terminal, words

COMMAND = Path(sys.executable).with_name("secondpass")
SIZE = {"columns": 80, "rows": 24}
ROUNDS = 5
FEW, FIRST_S = 1000, 0.5
HELD_S = 0.033
"""Between two presses of a key that is held."""
MOVES = 60
MOST_MB = 300
UP, DOWN, RIGHT = b"\x1b[A", b"\x1b[B", b"\x1b[C"

MOVED = re.compile(r"▸ \d{3,} ")
"""The line under the cursor."""

MEASURES = "measures.json"
"""What the worker measured of the pass that was really played, beside the sessions."""

Figures = dict[str, float]


def main() -> None:
    """Make both sessions, measure and print the figures; in a child, do one job."""
    parser = report.options(__doc__)
    parser.add_argument("--variants", type=int, default=10_000)
    parser.add_argument("--parts", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--job", nargs=2, metavar=("NAME", "FOLDER"), help="for the script itself")
    said = parser.parse_args()
    if said.job:
        print(json.dumps(JOBS[said.job[0]](Path(said.job[1]))))
        return
    with tempfile.TemporaryDirectory(prefix="bench-many-") as folder:
        variants, parts = (100, 2) if said.short else (said.variants, said.parts)
        empty, full = _sessions(Path(folder), variants, parts, said.seed)
        made = f"{_count(full)} variants of {parts} parts, seed {said.seed}"
        report.conditions(f"{made}; in brackets the session of one")
        rounds = 1 if said.short else ROUNDS
        _compare(empty, full, rounds)
        _screen(full, 10 if said.short else MOVES, said.seed)


def _sessions(folder: Path, variants: int, parts: int, seed: int) -> tuple[Path, Path]:
    """Return the folders of the session as it was after its first pass, and of the full one."""
    from many import Shape, fill, measured_first, played_session  # noqa: PLC0415 - the jobs must not load it

    shape = Shape.of(variants, parts=parts)
    session = played_session(folder, shape)
    (folder / MEASURES).write_bytes(measured_first(session))
    empty = folder / "empty"
    shutil.copytree(session.folder, empty, ignore=shutil.ignore_patterns(".card"))
    fill(session, shape, seed=seed)
    return empty, session.folder


def _count(session: Path) -> int:
    return sum(1 for _ in session.glob("passes/*/*/variant.json"))


# ---------------------------------------------------------------- what the face does, each in a child


def _opened(session: Path) -> Figures:
    """Open a session as the screen does, look again as after a pass, and close it."""
    from audio.jobs import news  # noqa: PLC0415 - what a job loads is part of its figures
    from audio.jobs.runner import Runner  # noqa: PLC0415

    told: queue.SimpleQueue[Any] = queue.SimpleQueue()
    runners: list[Runner] = []

    def open_() -> None:
        runners.append(Runner(session, program="secondpass open"))
        runners[0].start(told.put)
        while not isinstance(one := told.get(timeout=120), news.Ready):
            if isinstance(one, news.Snapshot):
                pictures.append((time.perf_counter() - began_s, len(one.variants)))

    pictures: list[tuple[float, int]] = []
    began_s = time.perf_counter()
    figures = _timed("open", open_)
    figures |= {"picture": pictures[0][0], "pictured": float(pictures[0][1])}
    figures |= _timed("look", runners[0]._show, ROUNDS)
    figures |= _timed("close", runners[0].close)
    return figures | {
        "memory": rss_bytes(os.getpid()) / MB,
        "numpy": float("numpy" in sys.modules),
    }


def _claimed(session: Path) -> Figures:
    """Claim a number, as before each pass; the folder goes again."""
    from audio.session.folder import open_session  # noqa: PLC0415
    from audio.session.passes import Claim, claim  # noqa: PLC0415

    one = open_session(session)
    part = one.file.songs[0].parts[-1].name
    claims: list[Claim] = []
    figures = _timed("claim", lambda: claims.append(claim(one, part)), ROUNDS)
    for made in claims:
        made.folder.rmdir()
    return figures


def _judged(session: Path) -> Figures:
    """Judge the pass that was really played once more, as the newest of its part."""
    import msgspec  # noqa: PLC0415

    from audio.jobs.judging import make_variant  # noqa: PLC0415
    from audio.session import layout, records  # noqa: PLC0415
    from audio.session.folder import open_session  # noqa: PLC0415
    from audio.vocab.results import PassMeasures  # noqa: PLC0415

    one = open_session(session)
    part = one.file.songs[0].parts[0].name
    folder = layout.pass_folder(session, part, 1)
    order = msgspec.structs.replace(records.read_order(folder), number=10**6)
    ended, was = records.read_roll(folder), records.read_variant(folder)
    measures = msgspec.json.decode((session.parent / MEASURES).read_bytes(), type=PassMeasures)

    def judge() -> None:
        records.newest(one, part)
        before = records.variants(one, part, chain=order.chain.name).found
        make_variant(
            order,
            ended,
            measures,
            closing=was.closing_click,
            closing_witness=None,
            closing_loop=None,
            before=before,
            state="kept",
        )

    return _timed("judge", judge, ROUNDS)


def _begun(session: Path) -> Figures:
    """Open a session as `secondpass pass` does, up to where it looks for its part."""
    from audio.jobs.sessions import opened  # noqa: PLC0415
    from audio.jobs.talk import Silent  # noqa: PLC0415
    from audio.work.client import Worker  # noqa: PLC0415

    def begin() -> None:
        with (
            Worker() as worker,
            opened(session, program="secondpass pass", worker=worker, listener=Silent()),
        ):
            pass

    return _timed("begin", begin, ROUNDS)


def _timed(name: str, do: Callable[[], object], times: int = 1) -> Figures:
    """Return the processor and the wall time of something, medians of so many times."""
    taken: list[tuple[float, float]] = []
    for _ in range(times):
        cpu_s, began_s = time.process_time(), time.perf_counter()
        do()
        taken.append((time.process_time() - cpu_s, time.perf_counter() - began_s))
    cpu, wall = zip(*taken, strict=True)
    return {name: median(cpu), f"{name}, wall": median(wall)}


JOBS: dict[str, Callable[[Path], Figures]] = {
    "opened": _opened,
    "claimed": _claimed,
    "judged": _judged,
    "begun": _begun,
}


# ---------------------------------------------------------------- side by side


def _compare(empty: Path, full: Path, rounds: int) -> None:
    """Do every job in both sessions in turn and print the figures."""
    few, many = ({}, {})  # type: tuple[Figures, Figures]
    for name in JOBS:
        taken: dict[Path, list[Figures]] = {empty: [], full: []}
        for _ in range(rounds):
            for session, found in taken.items():
                found.append(_in_child(name, session))
        for session, all_ in ((empty, few), (full, many)):
            all_ |= {key: median(one[key] for one in taken[session]) for key in taken[session][0]}
    for name, says, goal_s in (
        ("open", "open: runner made to ready", 2.0),
        ("look", "looked at again, as after a pass", 0.2),
        ("claim", "a number is claimed", 0.05),
        ("judge", "siblings read, verdict", few["judge"] + 0.1),
        ("begin", "`pass` gets to its part", few["begin"] + 0.25),
        ("close", "closed", 0.5),
    ):
        value = f"{1e3 * many[name]:.0f} ms ({1e3 * few[name]:.0f})"
        report.figure(says, value, f"under {1e3 * goal_s:.0f} ms", many[name] < goal_s)
        wall = (1e3 * one[f"{name}, wall"] for one in (many, few))
        report.figure("  wall time", "{:.0f} ms ({:.0f})".format(*wall))
    taken, seen = many["picture"], int(many["pictured"])
    is_goal = seen <= FEW
    name = f"wall time to the first picture, {seen} variants"
    goal = "under 500 ms" if is_goal else ""
    report.figure(name, f"{1e3 * taken:.0f} ms", goal, taken < FIRST_S if is_goal else None)
    _memory("memory of the face", many["memory"])
    without = not many["numpy"]
    report.figure("numpy in the face", "no" if without else "yes", "no", without)


def _memory(name: str, megabytes: float) -> None:
    report.figure(name, f"{megabytes:.0f} MB", f"under {MOST_MB} MB", megabytes < MOST_MB)


def _in_child(name: str, session: Path) -> Figures:
    command = [sys.executable, __file__, "--job", name, session]
    ran = subprocess.run(command, check=True, stdout=subprocess.PIPE)
    figures: Figures = json.loads(ran.stdout)
    return figures


# ---------------------------------------------------------------- the screen


def _screen(session: Path, moves: int, seed: int) -> None:
    """Walk to the variants and move the cursor; print how soon each move was drawn."""
    uneven = random.Random(seed)  # noqa: S311 - when keys come, no secrets
    with on_terminal([COMMAND, "open", session], **SIZE) as one:
        one.until_words("▸chain")
        stands_s = time.perf_counter() - one.began_s
        one.forget()
        one.press(RIGHT * 6)
        one.until_words("▸variants")
        one.rest(1.0)
        taken = sorted(_moved(one, uneven, at) for at in range(moves))
        held = [_held(one, DOWN if at < 2 * moves else UP) for at in range(4 * moves)]
        memory = rss_bytes(one.process.pid) / MB
        one.quit(b"q")
    most = taken[round(0.95 * (len(taken) - 1))]
    report.figure("screen: command to a session that stands", f"{stands_s:.2f} s")
    report.figure("screen: a move of the cursor, median", f"{taken[len(taken) // 2]:.1f} ms")
    report.figure("screen: 95 of 100 moves within", f"{most:.1f} ms", "under 50 ms", most < 50)
    report.figure("screen: worst", f"{taken[-1]:.1f} ms")
    worst = max(held)
    report.figure(
        f"screen: arrow held, worst of {len(held)}", f"{worst:.1f} ms", "under 50 ms", worst < 50
    )
    _memory("screen: memory", memory)


def _moved(one: OnTerminal, uneven: random.Random, at: int) -> float:
    """Move down, now and then up again; return the milliseconds until the moved cursor was drawn."""
    one.rest(uneven.uniform(0.10, 0.20))
    one.forget()
    pressed_s = one.press(UP if at % 5 == 4 else DOWN)
    return 1e3 * (one.until(lambda written: MOVED.search(words(written))) - pressed_s)


def _held(one: OnTerminal, key: bytes) -> float:
    """Press as a held key does; return the milliseconds until the moved cursor was drawn."""
    one.forget()
    pressed_s = one.press(key)
    taken_s = one.until(lambda written: MOVED.search(words(written))) - pressed_s
    one.rest(max(HELD_S - taken_s, 0.0))
    return 1e3 * taken_s


if __name__ == "__main__":
    main()
