"""Flagged callbacks of the engine in a pass, with the screen and without it, over a private JACK server.

The same session, sixteen returns at 512 frames, is played by keys on the screen (160×50 cells of a pseudo
terminal that is read as fast as it writes) and by `secondpass pass`, in turn, twice each. From the moment
the DI has rolled for a second, twenty seconds are counted, in the engine's own status block, the same way
for both.

Goal: the screen adds none. Flags are rare and come by themselves on a machine that does anything else, so
two counts are taken for equal where they differ by no more than twice the square root of their sum: two
standard deviations of a difference of two Poisson counts. Dropouts of the pass are for comparison.
"""

from __future__ import annotations

import math
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path

import report
from accidents import engine_under
from bench_callback import INPUTS, wiring
from evening import COMMAND, PART, new_session, ready, roll
from jackroom import rig, spec
from material import RATE
from processes import has_realtime_thread
from pseudo_terminal import on_terminal

from audio.files.platform import memory_folder
from audio.vocab.status import Status, StatusReader

STATUS = str(memory_folder() / "secondpass-engine-")
"""How the path of an engine's status block begins."""

PERIOD = 512
COUNTED_S = 20.0
LONGER_S = 5.0
"""The DI goes on for so long after what is counted."""

Wait = Callable[[float], None]
"""Lets time pass, as whoever watches the face has to."""


@dataclass(frozen=True)
class Seen:
    """What one stretch of a pass saw."""

    callbacks: int
    flagged: int
    dropouts: int
    realtime: bool


def main() -> None:
    """Measure both ways in turn and print the figures."""
    said = report.options(__doc__).parse_args()
    seconds, rounds = (4.0, 1) if said.short else (COUNTED_S, 2)
    with_screen, without = [], []
    with tempfile.TemporaryDirectory(prefix="bench-callbacks-") as folder, _room() as room:
        session = new_session(
            Path(folder), wiring(room.spec.name), seconds=seconds + LONGER_S + 1.0
        )
        for _ in range(rounds):
            without.append(headless(session, room.env, seconds))
            with_screen.append(on_screen(session, room.env, seconds))
    realtime = all(one.realtime for one in (*with_screen, *without))
    report.conditions(
        f"{PERIOD} frames at {RATE} Hz, {INPUTS} returns, {rounds} times {seconds:g} s each,"
        f" {'real-time' if realtime else 'NOT real-time'} callback"
    )
    show(with_screen, without)


def show(with_screen: list[Seen], without: list[Seen]) -> None:
    """Print both and whether they are equal."""
    counts = []
    for name, seen in (("with the screen", with_screen), ("without a screen", without)):
        flagged = sum(one.flagged for one in seen)
        counts.append(flagged)
        callbacks = sum(one.callbacks for one in seen)
        report.figure(f"{name}: flagged callbacks", f"{flagged} of {callbacks}")
        report.figure(f"{name}: dropouts of the passes", str(sum(one.dropouts for one in seen)))
    allowed = 2.0 * math.sqrt(sum(counts))
    apart = counts[0] - counts[1]
    report.figure(
        "flagged with the screen more than without",
        f"{apart:+d}",
        f"at most {allowed:.1f}",
        apart <= allowed,
    )


def _room() -> AbstractContextManager[rig.JackRoom]:
    wires = tuple(spec.Path(output=3, input=n + 1, delay_frames=40 * n) for n in range(INPUTS))
    return rig.jack_room(rate=RATE, period=PERIOD, paths=wires, inputs=INPUTS)


# ---------------------------------------------------------------- one stretch


def headless(session: Path, env: dict[str, str], seconds: float) -> Seen:
    """Count while the command plays."""
    before = _passes(session)
    words = [COMMAND, "pass", session, "--part", PART, "--chain", "bare path"]
    face = subprocess.Popen(words, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        return _counted(session, face.pid, seconds, before=before, wait=time.sleep)
    finally:
        face.send_signal(signal.SIGINT)  # stops and keeps
        face.wait()


def on_screen(session: Path, env: dict[str, str], seconds: float) -> Seen:
    """Count while the screen plays, and shows it."""
    with on_terminal([COMMAND, "open", session], columns=160, rows=50, env=env) as one:
        one.until_words("open the stream")
        one.press(b"o")
        ready(one)
        before = _passes(session)
        roll(one)
        seen = _counted(session, one.process.pid, seconds, before=before, wait=one.rest)
        one.press(b"s")
        one.until_words("VERDICT")
        one.quit(b"q")
    return seen


def _counted(session: Path, face: int, seconds: float, *, before: set[Path], wait: Wait) -> Seen:
    engine = engine_under(face)
    while not _has_rolled(_passes(session) - before):
        wait(0.05)
    with _status_of(engine) as read:
        first = read()
        wait(seconds)
        last = read()
        return Seen(
            callbacks=(last.stream_frame - first.stream_frame) // PERIOD,
            flagged=last.flagged - first.flagged,
            dropouts=last.dropouts,
            realtime=has_realtime_thread(engine),
        )


def _passes(session: Path) -> set[Path]:
    return set((session / "passes" / PART).glob("*"))


def _has_rolled(new: set[Path]) -> bool:
    """Return whether a new pass has a second of its DI on disk."""
    takes = [take for folder in new for take in folder.glob(f"{PART}_*.wav")]
    return len(takes) == INPUTS and min(one.stat().st_size for one in takes) > 3 * RATE


@contextmanager
def _status_of(engine: int) -> Iterator[Callable[[], Status]]:
    """Yield what reads the status block of an engine: the one that is mapped into it."""
    mapped = (line.split()[-1] for line in Path(f"/proc/{engine}/maps").read_text().splitlines())
    path = next(Path(one) for one in mapped if one.startswith(STATUS))
    reader = StatusReader(path)

    def read() -> Status:
        while (status := reader.read()) is None:
            time.sleep(0.001)
        return status

    try:
        yield read
    finally:
        reader.close()


if __name__ == "__main__":
    main()
