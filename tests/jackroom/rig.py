"""Start a private JACK server and the room on it, and take both away again whatever happens."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import IO

import msgspec
import yaml

from audio.vocab.patching import PatchName
from jackroom.server import DIES_WITH_US, Server, end, jack_server
from jackroom.spec import Path, Ready, RoomSpec


class JackRoom:
    """A running server with a room on it."""

    def __init__(self, spec: RoomSpec, server: Server) -> None:
        self.spec = spec
        self.server = server
        self.enter()

    @property
    def env(self) -> dict[str, str]:
        """Environment of every process that shall find this server."""
        return self.server.env

    @property
    def server_process(self) -> subprocess.Popen[bytes]:
        """The server."""
        return self.server.process

    def enter(self) -> None:
        """Let the room come to the server, which must run or be starting."""
        text = msgspec.json.encode(self.spec).decode()
        self.room_process = subprocess.Popen(
            [*DIES_WITH_US, sys.executable, "-m", "jackroom.room_client", self.server.name, text],
            env=self.env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self.server.log,
            text=True, start_new_session=True,
        )  # fmt: skip
        try:
            ready = _ready(self.room_process, self.server.log)
        except BaseException:
            end(self.room_process)
            raise
        self.rate, self.period = ready.rate, ready.period

    def leave(self) -> None:
        """Take the room away from a server that goes on, like an interface that is unplugged."""
        end(self.room_process)

    def restart(self, *, rate: int | None = None) -> None:
        """Start server and room anew, at another rate if one is named."""
        rate, period = rate or self.rate, self.period
        end(self.room_process)
        end(self.server.process)
        self.server.start(rate=rate, period=period)
        self.enter()

    def round_trip(self, input_channel: int) -> float:
        """Return the true delay in frames to an input (from 1) over the first path that reaches it.

        In a loop of two clients the server closes one connection a period late, whichever it is, so a
        client meets its own frames one period later (``tests/contract/test_jack_room.py`` proves it); the
        rest is the path's.
        """
        path = next(p for p in self.spec.paths if p.input == input_channel)
        return self.period + path.delay_frames

    def wiring_text(self, **keys: object) -> str:
        """Return a wiring file for this room; `keys` replace or add keys of the file.

        The send is the first path's output; every input that a path of the normal patch reaches from
        there is a return, the first of them the reference.
        """
        send = self.spec.paths[0].output
        there = [p for p in self.spec.paths if not p.patches or "amp" in p.patches]
        inputs = dict.fromkeys(p.input for p in there if p.output == send)
        names = [f"mic {i}" for i in inputs]
        wiring = {
            "name": "jack room",
            "device": {
                "kind": "portaudio",
                "host": "JACK Audio Connection Kit",
                "name": self.spec.name,
            },
            "sample_rate": self.rate,
            "send": {"output": send},
            "returns": [{"name": n, "input": i} for n, i in zip(names, inputs, strict=True)],
            "reference": names[0],
        }
        return yaml.safe_dump(wiring | keys, sort_keys=False)

    def change_period(self, frames: int) -> None:
        """Make the server run in periods of `frames` from now on."""
        self.tell("period", str(frames))

    def tell(self, *words: str) -> None:
        """Have the room's process do something; see `jackroom.room_client`."""
        assert self.room_process.stdin is not None
        assert self.room_process.stdout is not None
        self.room_process.stdin.write(" ".join(words) + "\n")
        self.room_process.stdin.flush()
        assert self.room_process.stdout.readline() == "done\n"

    def patch(self, patch: PatchName) -> None:
        """Plug the room's own cables so; no other client sees anything of it."""
        self.tell("patch", patch)

    def turn(self, path: int, gain: float) -> None:
        """Turn the knob on a path, counted from 1 in the spec's order, to another gain, linear."""
        self.tell("turn", str(path), repr(gain))

    def kill_server(self) -> None:
        """Take the server away without a word to anyone, like a cable that is pulled."""
        self.server_process.kill()
        self.server_process.wait()


@contextmanager
def jack_room(
    *,
    rate: int,
    period: int,
    paths: tuple[Path, ...],
    on: Callable[..., AbstractContextManager[Server]] = jack_server,
    **spec: object,
) -> Iterator[JackRoom]:
    """Yield a `JackRoom`; `spec` holds the rest of a `RoomSpec`, `on` starts the server.

    Needs jackd (Debian: jackd2) and JACK-Client.
    """
    room = RoomSpec(paths=paths, **spec)  # type: ignore[arg-type]
    with (
        tempfile.TemporaryFile() as log,
        on(rate=rate, period=period, log=log) as server,
    ):
        opened = JackRoom(room, server)
        try:
            yield opened
        finally:
            end(opened.room_process)


def pause(pid: int, seconds: float) -> None:
    """Hold a process for so long, as a stalled machine would: the fault itself, so it does sleep."""
    os.kill(pid, signal.SIGSTOP)
    try:
        time.sleep(seconds)
    finally:
        os.kill(pid, signal.SIGCONT)


def _ready(client: subprocess.Popen[str], log: IO[bytes]) -> Ready:
    assert client.stdout is not None
    line = client.stdout.readline()
    if not line:
        said = os.pread(log.fileno(), 4000, 0).decode(errors="replace")
        message = f"the JACK room did not come up; server and room said:\n{said}"
        raise RuntimeError(message)
    return msgspec.json.decode(line, type=Ready)
