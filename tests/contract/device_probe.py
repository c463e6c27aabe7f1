"""Drive a device through its port in a process of its own, and say what was seen.

PortAudio freezes its list when it is loaded, and a device that hangs must not take the test run along.
Run as ``python device_probe.py ASK_JSON ARRAYS.npz``; prints one `Told`.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path

import msgspec
import numpy as np
from numpy.typing import NDArray

from audio.device.factory import open_device
from audio.device.port import Block, Device
from audio.vocab.errors import SecondpassError
from audio.vocab.wiring import Wiring

GIVE_UP_S = 20.0


class Ask(msgspec.Struct, frozen=True, kw_only=True):
    """What to do with the device of a wiring."""

    wiring: Wiring
    blocks: int = 0
    """How many blocks to play noise and record."""
    raise_at: int | None = None
    """Block in which the block function raises."""
    tell_start: bool = False
    """Print ``rolling`` once blocks are being called."""
    wait_for_line: bool = False
    """After the last block, print ``running`` and wait for a line before anything else happens."""
    close: bool = True


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """What was seen of it."""

    error: str = ""
    """Class of what opening raised."""
    sentence: str = ""
    rate: int = 0
    block_frames: int = 0
    inputs: int = 0
    outputs: int = 0
    sample_format: str = ""
    paced: bool = False
    calls: tuple[tuple[int, str, str, tuple[int, ...], tuple[int, ...]], ...] = ()
    """Distinct (frames, input dtype, output dtype, input shape, output shape)."""
    when_s: tuple[float, ...] = ()
    flags: tuple[int, ...] = ()
    gates: int = 0
    """How often the gate was asked."""
    alive_running: bool = False
    alive_after_raise: bool | None = None
    alive_at_end: bool = False
    """Just before it was closed."""
    failure: str | None = None
    close_s: float = 0.0
    late_calls: int = 0
    """Calls that came after `close` had returned."""


class Player:
    """A block function that plays noise on every output, differently, and keeps what comes in."""

    def __init__(self, device: Device, ask: Ask) -> None:
        frames = ask.blocks * device.block_frames
        random = np.random.default_rng(7)
        noise = random.uniform(-0.25, 0.25, (frames, device.outputs))
        full = 2.0**31 if device.sample_format == "int32" else 1.0
        self.sent = np.rint(noise * 2**23).astype(np.float64) * (full / 2**23)
        self.sent = self.sent.astype(device.sample_format)
        self.heard: NDArray[np.generic] = np.zeros((frames, device.inputs), device.sample_format)
        self._ask = ask
        self.frame = 0
        self.count = 0
        self.calls: set[tuple[int, str, str, tuple[int, ...], tuple[int, ...]]] = set()
        self.when_s: list[float] = []
        self.flags: list[int] = []
        self.first = threading.Event()
        self.done = threading.Event()

    def __call__(
        self, indata: Block, outdata: Block, frames: int, when_s: float, flags: int
    ) -> None:
        self.count += 1
        if self.count - 1 == self._ask.raise_at:
            self.done.set()
            raise RuntimeError("the block function broke")
        start, end = self.frame, self.frame + frames
        if end > len(self.sent):
            outdata.fill(0)
            self.done.set()
            return
        shapes = (tuple(indata.shape), tuple(outdata.shape))
        self.calls.add((frames, indata.dtype.name, outdata.dtype.name, *shapes))
        if self.count == 2:
            self.first.set()
        outdata[:] = self.sent[start:end]
        self.heard[start:end] = indata
        self.when_s.append(when_s)
        self.flags.append(flags)
        self.frame = end


def probe(ask: Ask, arrays: Path) -> Told:
    """Open, run, close; write what was sent and heard to `arrays`."""
    try:
        device = open_device(ask.wiring)
    except SecondpassError as error:
        return Told(error=type(error).__name__, sentence=str(error))
    player = Player(device, ask)
    gates = [0]

    def gate(_frames: int) -> bool:
        gates[0] += 1
        return not player.done.is_set()

    device.start(player, gate)
    alive_running = device.alive()
    if ask.tell_start:
        player.first.wait(GIVE_UP_S)
        say("rolling")
    if not player.done.wait(GIVE_UP_S):
        raise TimeoutError("the device stopped calling")
    alive_after = _settles(device) if ask.raise_at is not None else None
    if ask.wait_for_line:
        say("running")
        sys.stdin.readline()
        _settles(device)
    alive_at_end = device.alive()
    close_s = _close(device) if ask.close else 0.0
    counted = player.count
    time.sleep(4 * device.block_frames / device.rate)  # long enough for a call that must not come
    np.savez(arrays, sent=player.sent[: player.frame], heard=player.heard[: player.frame])
    return Told(
        rate=device.rate,
        block_frames=device.block_frames,
        inputs=device.inputs,
        outputs=device.outputs,
        sample_format=device.sample_format,
        paced=device.paced,
        calls=tuple(player.calls),
        when_s=tuple(player.when_s),
        flags=tuple(player.flags),
        gates=gates[0],
        alive_running=alive_running,
        alive_after_raise=alive_after,
        alive_at_end=alive_at_end,
        failure=getattr(device, "failure", None),
        close_s=close_s,
        late_calls=player.count - counted,
    )


def _settles(device: Device) -> bool:
    """Return whether the device still counts as alive after it had two seconds to notice."""
    give_up = time.monotonic() + 2.0
    while device.alive() and time.monotonic() < give_up:
        time.sleep(0.01)
    return device.alive()


def _close(device: Device) -> float:
    begun = time.monotonic()
    device.close()
    return time.monotonic() - begun


def say(line: str) -> None:
    """Send one line to the test."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> None:
    """Do what the first argument asks."""
    ask = msgspec.json.decode(sys.argv[1], type=Ask)
    told = probe(ask, Path(sys.argv[2]))
    say(msgspec.json.encode(told).decode())
    if not ask.close:
        os._exit(0)  # a dead device hangs a normal exit


if __name__ == "__main__":
    main()
