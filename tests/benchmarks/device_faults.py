"""What goes wrong with a device over JACK: when it strikes, what it does, and how it is put right again."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from time import monotonic
from typing import Literal

import numpy as np
from jack_evening import PERIOD, RATE, Evening
from jackroom.rig import pause
from msgspec.structs import replace

from audio.vocab.wiring_file import read_wiring

Phase = Literal["standby", "opening", "click", "closing click", "DI", "tail"]
After = Literal["goes on", "breaks off", "never starts"]
"""What becomes of the stream, or of the pass that was asked for."""

_JACK_ALONE = "server restarted at"
"""What PipeWire does not do: it resamples other rates."""

OTHER_NAME = "reamp-room-b"


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One way for a device to go wrong."""

    name: str
    phase: Phase
    do: Callable[[Evening], object]
    after: After = "breaks off"
    refused: str = ""
    """What a refusal must name before it is put right; empty where the stream opens at once."""
    heal: Callable[[Evening], object] = lambda _: None
    """Puts things right, as an engineer would, before the stream is asked for again."""
    timed: bool = True
    """False where no moment is the fault's: a stream has to be opened, a server takes its time to end."""


def strike(evening: Evening, fault: Fault, draw: np.random.Generator) -> tuple[float, float]:
    """Wait for a moment of the fault's phase and let it happen; return when that began and was over."""
    begun = monotonic()
    match fault.phase:
        case "opening":
            evening.ask_to_open()
            time.sleep(draw.uniform(0.0, 0.7))
        case "standby":
            time.sleep(draw.uniform(0.0, 0.5))
        case _:
            evening.start_pass()
            _await_moment(evening, fault.phase, begun, draw)
    struck = monotonic()
    fault.do(evening)
    return struck, monotonic()


def _await_moment(evening: Evening, phase: Phase, begun: float, draw: np.random.Generator) -> None:
    if phase == "click":
        evening.rolls("click", since=begun)
        time.sleep(draw.uniform(0.0, 3.5))
        return
    di = evening.rolls("pass", since=begun)
    if phase == "closing click":
        evening.rolls("click", since=di.at)
        time.sleep(draw.uniform(0.0, 1.5))
    else:
        low, high = (0.4, 3.8) if phase == "DI" else (4.3, 5.1)
        time.sleep(max(0.0, di.at + draw.uniform(low, high) - monotonic()))


# ---------------------------------------------------------------- what is done


def end_server(evening: Evening, *, with_signal: signal.Signals) -> None:
    """End the server with a signal."""
    evening.room.server_process.send_signal(with_signal)


def hold(evening: Evening, *, whom: Literal["engine", "server"], seconds: float) -> None:
    """Hold a process for so long."""
    pid = evening.engine_pid() if whom == "engine" else evening.room.server_process.pid
    pause(pid, seconds)


def rename(evening: Evening, *, to: str) -> None:
    """Let the interface leave and come back under another name."""
    evening.room.leave()
    evening.room.spec = replace(evening.room.spec, name=to)
    evening.room.enter()


def restart(evening: Evening, *, rate: int = RATE) -> None:
    """Start the server anew."""
    evening.room.restart(rate=rate)


def swap_returns(evening: Evening) -> None:
    """Put two microphones' cables into each other's inputs."""
    tell, room, us = evening.room.tell, evening.room.spec.name, evening.client
    for number in (2, 3):
        tell("unplug", f"capture_{number}")
    tell("plug", f"{room}:capture_2", f"{us}:in_2")
    tell("plug", f"{room}:capture_3", f"{us}:in_1")


def unplug(evening: Evening, *, port: str, while_held: bool = False) -> None:
    """Pull the cable out of a port of the interface, also while the engine is held."""
    if not while_held:
        evening.room.tell("unplug", port)
        return
    engine = evening.engine_pid()
    os.kill(engine, signal.SIGSTOP)
    try:
        evening.room.tell("unplug", port)
        time.sleep(0.3)
    finally:
        os.kill(engine, signal.SIGCONT)


def feed_send(evening: Evening) -> None:
    """Let something else play into the send."""
    room = evening.room.spec.name
    evening.room.tell("plug", f"{room}:capture_1", f"{room}:playback_3")


def open_without_channel(evening: Evening) -> None:
    """Ask for a stream whose send is output 8 of 4."""
    path = evening.session / "wiring.yaml"
    wiring = read_wiring(path)
    evening.watch(replace(wiring, send_output=8))


# ---------------------------------------------------------------- the list


def faults(*, pipewire: bool) -> list[Fault]:
    """Return all of them that can be on the server."""
    everything = [*_server_dies(), *_held(), *_changed(), *_repatched()]
    return [f for f in everything if not (pipewire and f.name.startswith(_JACK_ALONE))]


def _server_dies() -> list[Fault]:
    phases: tuple[Phase, ...] = ("standby", "opening", "click", "DI", "tail", "closing click")
    return [
        Fault(
            name=f"server ended ({number.name}), {phase}",
            phase=phase,
            do=partial(end_server, with_signal=number),
            refused="no JACK server answers",
            heal=restart,
        )
        for number in (signal.SIGKILL, signal.SIGTERM)
        for phase in phases
    ]


def _held() -> list[Fault]:
    found = []
    for seconds in (0.1, 0.3, 0.7, 3.0):
        for whom in ("engine", "server"):
            breaks = whom == "server" and seconds > 0.5
            found.append(
                Fault(
                    name=f"{whom} held for {seconds:g} s, DI",
                    phase="DI",
                    do=partial(hold, whom=whom, seconds=seconds),
                    after="breaks off" if breaks else "goes on",
                )
            )
    return found


def _changed() -> list[Fault]:
    back = partial(rename, to="reamp-room")
    found = [
        Fault(
            name=f"interface renamed, {phase}",
            phase=phase,
            do=partial(rename, to=OTHER_NAME),
            refused=OTHER_NAME,
            heal=back,
        )
        for phase in ("standby", "DI")
    ]
    found += [
        Fault(
            name=f"period from 512 to {frames}, {phase}",
            phase=phase,
            do=lambda evening, frames=frames: evening.room.change_period(frames),
            heal=lambda evening: evening.room.change_period(PERIOD),
        )
        for frames, phase in ((256, "DI"), (1024, "DI"), (1024, "standby"), (64, "tail"))
    ]
    other = 44_100
    found.append(
        Fault(
            name="server restarted at 44.1 kHz, standby",
            phase="standby",
            do=partial(restart, rate=other),
            timed=False,
            refused=f"{RATE} Hz",
            heal=restart,
        )
    )
    found.append(
        Fault(
            name="wiring names output 8 of 4, opening",
            phase="standby",
            do=open_without_channel,
            after="never starts",
            refused="output 8",
            timed=False,
        )
    )
    return found


def _repatched() -> list[Fault]:
    return [
        Fault(name="send's cable pulled, DI", phase="DI", do=partial(unplug, port="playback_3")),
        Fault(name="return's cable pulled, DI", phase="DI", do=partial(unplug, port="capture_2")),
        Fault(
            name="return's cable pulled while engine is held, DI",
            phase="DI",
            do=partial(unplug, port="capture_2", while_held=True),
        ),
        Fault(
            name="send's cable pulled, standby",
            phase="standby",
            do=partial(unplug, port="playback_3"),
        ),
        Fault(name="two returns swapped, DI", phase="DI", do=swap_returns),
        Fault(
            name="something else fed into the send, DI",
            phase="DI",
            do=feed_send,
            heal=lambda evening: evening.room.tell("unplug", "playback_3"),
        ),
        Fault(
            name="two of four ports vanish, DI",
            phase="DI",
            do=lambda evening: evening.room.tell("vanish", "capture_2", "capture_3"),
            refused="input 3",
            heal=restart,
        ),
    ]
