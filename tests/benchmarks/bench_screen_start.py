"""How soon the screen is there: its first words, beside a bare app of its library; moving levels.

`secondpass open`, `secondpass demo` and a bare app of the same library (one line of text) are started in
turn, each on a pseudo terminal of 80×24 cells, nine times; the time runs from the start of the process to
the first readable character after the switch to the alternate screen. The first round warms the disk's
cache and is left out. The demo's levels are watched at the returns, walked to by the arrow key as soon as
there is a path; they move when a second, different figure stands there.

Goals: median over the bare app's median under 1.3; levels move within 3 s of the command (median); the
answer to ``--help`` in under 0.15 s (median of 15). A Python that does nothing is for comparison.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import report
from material import RATE, write_long_di
from pseudo_terminal import OnTerminal, draws, on_terminal, words

HERE = Path(__file__).parent
COMMAND = Path(sys.executable).with_name("secondpass")
SIZE = {"columns": 80, "rows": 24}
RATIO = 1.3
LEVELS_S = 3.0
HELP_S = 0.15
HELPS = 15

RIGHT = b"\x1b[C"
FIGURE = re.compile(r"in \d+\D*(−\d+\.\d)")
"""A level beside its input."""


def main() -> None:
    """Measure all of it and print the figures."""
    said = report.options(__doc__).parse_args()
    rounds = 2 if said.short else 7
    with tempfile.TemporaryDirectory(prefix="bench-start-") as folder:
        started(Path(folder), rounds)
        moving(Path(folder), 1 if said.short else 5)
    helped(3 if said.short else HELPS)


def started(folder: Path, rounds: int) -> None:
    """Print how soon each of the three draws."""
    report.conditions(f"from start to first words drawn, in turn, median of {rounds}, 80×24")
    session = _session(folder)
    taken: dict[str, list[float]] = {"bare": [], "open": [], "demo": []}
    for number in range(rounds + 1):
        for name, command in _commands(folder / f"demo-{number}", session).items():
            taken[name].append(_first_words_s(command))
    times = {name: median(each[1:]) for name, each in taken.items()}
    report.figure("bare app", f"{times['bare']:.3f} s")
    for name in ("open", "demo"):
        ratio = times[name] / times["bare"]
        report.figure(f"secondpass {name}", f"{times[name]:.3f} s")
        report.figure(
            f"secondpass {name} over the bare app", f"{ratio:.2f}", f"under {RATIO}", ratio < RATIO
        )


def _commands(demo: Path, session: Path) -> dict[str, list[str | Path]]:
    return {
        "bare": [sys.executable, HERE / "bare_app.py"],
        "open": [COMMAND, "open", session],
        "demo": [COMMAND, "demo", "--out", demo],
    }


def _session(folder: Path) -> Path:
    """Make a session with a part of three minutes."""
    di = write_long_di(folder / "riff.wav", seconds=180.0)
    session = folder / "session"
    command = [COMMAND, "new", session, "--di", di]
    subprocess.run(command, check=True, capture_output=True)
    assert RATE
    return session


def _first_words_s(command: list[str | Path]) -> float:
    with on_terminal(command, **SIZE) as one:
        took_s = one.until(draws) - one.began_s
        _leave(one)
    return took_s


def _leave(one: OnTerminal) -> None:
    one.rest(1.0)  # it is still starting: the next one shall find a quiet machine
    one.quit(b"q", b"\x11")


def moving(folder: Path, rounds: int) -> None:
    """Print how soon the demo's levels move."""
    report.conditions(f"the demo's levels at the returns, median of {rounds}, 80×24")
    taken = [_levels_move_s(folder / f"moving-{number}") for number in range(rounds)]
    middle, worst = median(taken), max(taken)
    report.figure(
        "levels move after", f"{middle:.2f} s", f"under {LEVELS_S:g} s", middle < LEVELS_S
    )
    report.figure("levels move after, worst", f"{worst:.2f} s")


def _levels_move_s(demo: Path) -> float:
    with on_terminal([COMMAND, "demo", "--out", demo], **SIZE) as one:
        one.until(draws)
        one.press(RIGHT * 5)
        took_s = one.until(_moves) - one.began_s
        _leave(one)
    return took_s


def _moves(written: bytes) -> bool:
    return len(set(FIGURE.findall(words(written)))) >= 3


def helped(times: int) -> None:
    """Print how soon the command line answers."""
    report.conditions(f"the command line, median of {times}")
    took_s = _median_s(lambda: [COMMAND, "--help"], times)
    report.figure("secondpass --help", f"{took_s:.3f} s", f"under {HELP_S:g} s", took_s < HELP_S)
    nothing_s = _median_s(lambda: [sys.executable, "-c", "pass"], times)
    report.figure("a Python that does nothing", f"{nothing_s:.3f} s")


def _median_s(command: Callable[[], list[str | Path]], times: int) -> float:
    taken = []
    for _ in range(times):
        began_s = time.perf_counter()
        subprocess.run(command(), check=True, capture_output=True)
        taken.append(time.perf_counter() - began_s)
    return median(taken)


if __name__ == "__main__":
    main()
