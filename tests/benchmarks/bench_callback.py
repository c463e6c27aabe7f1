"""The callback's share of the period and the callbacks PortAudio flagged, over a private JACK server.

Sixteen inputs are recorded to files while a DI plays, and a screen-like load (20 ms of Python in every
30) runs: once with the callback in a child process and the load in the face beside it, as the program
does it, once with the same callback in the load's own process, as it would be without the child. The
callback, its rings, its threads and its files are the same in both.

Goals: no flagged callback in the child at 512 frames; its p99.9 under 5 % of the period. 256 frames and
the same process are for comparison. ``--seconds`` sets how long each of the four runs is (20).
"""

from __future__ import annotations

import argparse
import gc
import os
import queue
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import msgspec
import report
from jackroom import rig, spec
from material import RATE, write_long_di
from processes import has_realtime_thread

from audio.device.factory import open_device
from audio.engine.client import Engine
from audio.engine.desk import Desk
from audio.engine.outlets import Outlets
from audio.engine.process import SWITCH_INTERVAL_S
from audio.engine.stream import Stream
from audio.vocab.messages import Capture, Counters, Ended, Event, Open, Opened, Report, Roll, Source
from audio.vocab.wiring import PortAudioDevice, Return, Wiring

INPUTS = 16
_E = TypeVar("_E", bound=Event)

BUSY_S = 0.020
TURN_S = 0.030
GOAL_SHARE = 0.05


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """One run, told to a process of its own: PortAudio's list of devices is frozen when it is loaded."""

    child: bool
    wiring: Wiring
    di: str
    folder: str
    seconds: float


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """What one run saw."""

    counters: Counters
    dropouts: int
    realtime: bool


def main() -> None:
    """Print the figures of all four runs."""
    parser = report.options(__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--asked", help=argparse.SUPPRESS)
    said = parser.parse_args()
    if said.asked:
        sys.stdout.buffer.write(msgspec.json.encode(measured(said.asked)))
        return
    seconds = 4.0 if said.short else said.seconds
    for period in (512, 256):
        compare(period, seconds)


def compare(period: int, seconds: float) -> None:
    """Measure child and same process at one period, and print them."""
    child, same = (run(period, seconds, child=child) for child in (True, False))
    realtime = "real-time" if child.realtime and same.realtime else "NOT real-time"
    report.conditions(
        f"{period} frames at {RATE} Hz, {INPUTS} returns to files, {seconds:.0f} s each,"
        f" screen-like load, {realtime} callback"
    )
    has_goal = period == 512
    _print("child", child, goal=has_goal)
    _print("same process", same, goal=False)
    ratio = same.counters.share_p999 / child.counters.share_p999
    report.figure("p99.9, same process over child", f"{ratio:.1f}")


def _print(name: str, seen: Seen, *, goal: bool) -> None:
    one = seen.counters
    flagged = f"{one.flagged} of {one.callbacks}"
    if goal:
        report.figure(f"{name}: flagged callbacks", flagged, "0", one.flagged == 0)
    else:
        report.figure(f"{name}: flagged callbacks", flagged)
    report.figure(f"{name}: dropouts noted in the roll", str(seen.dropouts))
    report.figure(f"{name}: share of the period, median", f"{one.share_median:.2%}")
    share = f"{one.share_p999:.2%}"
    if goal:
        met = one.share_p999 < GOAL_SHARE
        report.figure(f"{name}: share of the period, p99.9", share, f"under {GOAL_SHARE:.0%}", met)
    else:
        report.figure(f"{name}: share of the period, p99.9", share)
    report.figure(f"{name}: share of the period, worst", f"{one.share_worst:.1%}")


# ---------------------------------------------------------------- one run


def run(period: int, seconds: float, *, child: bool) -> Seen:
    """Start a server with sixteen wires on it and measure one run there."""
    wires = tuple(spec.Path(output=3, input=n + 1, delay_frames=40 * n) for n in range(INPUTS))
    with (
        tempfile.TemporaryDirectory(prefix="bench-callback-") as folder,
        rig.jack_room(rate=RATE, period=period, paths=wires, inputs=INPUTS) as room,
    ):
        asked = Asked(
            child=child,
            wiring=wiring(room.spec.name),
            di=str(write_long_di(Path(folder) / "di.wav", seconds=seconds)),
            folder=folder,
            seconds=seconds,
        )
        text = msgspec.json.encode(asked).decode()
        command = [sys.executable, __file__, "--asked", text]
        done = subprocess.run(command, env=room.env, stdout=subprocess.PIPE, check=True)
    return msgspec.json.decode(done.stdout, type=Seen)


def wiring(device: str) -> Wiring:
    """Return sixteen returns on the room's device."""
    return Wiring(
        name="sixteen returns",
        device=PortAudioDevice(host="JACK Audio Connection Kit", name=device),
        sample_rate=RATE,
        send_output=3,
        returns=tuple(Return(name=f"mic {n + 1}", input=n + 1) for n in range(INPUTS)),
        reference="mic 1",
    )


def measured(text: str) -> Seen:
    """Measure one run in this process."""
    asked = msgspec.json.decode(text, type=Asked)
    return in_child(asked) if asked.child else in_same_process(asked)


def roll(asked: Asked) -> Roll:
    """Return the DI on the send and one file for each input."""
    folder = Path(asked.folder)
    captures = tuple(Capture(path=str(folder / f"{n}.wav"), inputs=(n,)) for n in range(INPUTS))
    return Roll(
        roll_id=1,
        sources=(Source(path=asked.di, outputs=((2, 1.0),), reaches_send=True),),
        captures=captures,
        length_frames=round(asked.seconds * RATE),
        record=str(folder / "roll.json"),
    )


def in_child(asked: Asked) -> Seen:
    """Let the engine's process do it, with the load here, in the face."""
    with Engine() as engine:
        engine.send(Open(wiring=asked.wiring))
        _await(engine, Opened)
        realtime = has_realtime_thread(engine.pid)
        engine.send(roll(asked))
        ended: list[Ended] = []
        screen_load(until=lambda: bool(_collect(engine, ended)))
        engine.send(Report())
        counters = _await(engine, Counters)
    return Seen(counters=counters, dropouts=len(ended[0].dropouts), realtime=realtime)


def _collect(engine: Engine, ended: list[Ended]) -> list[Ended]:
    event = engine.event(0.0001)
    engine.status()
    if isinstance(event, Ended):
        ended.append(event)
    return ended


def _await(engine: Engine, kind: type[_E]) -> _E:
    event = engine.event(20.0)
    if not isinstance(event, kind):
        raise TypeError(f"the engine said {event} where {kind.__name__} was due")
    return event


def in_same_process(asked: Asked) -> Seen:
    """Run the engine's stream here, with the load in the same interpreter."""
    ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    stream = Stream(
        open_device(asked.wiring),
        outlets=Outlets.of(asked.wiring),
        publish=lambda _: None,
        ended=ended.put,
        broken=sys.exit,
    )
    gc.collect()
    gc.freeze()
    stream.start()
    try:
        stream.roll(roll(asked))
        realtime = has_realtime_thread(os.getpid())
        screen_load(until=lambda: not ended.empty())
        counters = Desk._counters(stream)
    finally:
        stream.close()
    return Seen(counters=counters, dropouts=len(ended.get().dropouts), realtime=realtime)


def screen_load(*, until: Callable[[], bool]) -> None:
    """Work in Python for 20 ms of every 30, as a repainting screen does."""
    begun = time.perf_counter()
    while not until():
        rows: dict[int, str] = {}
        while time.perf_counter() - begun < BUSY_S:
            for row in range(50):
                rows[row] = "".join(chr(0x2580 + (row * k) % 32) for k in range(40))
        begun += TURN_S
        time.sleep(max(0.0, begun - time.perf_counter()))


if __name__ == "__main__":
    main()
