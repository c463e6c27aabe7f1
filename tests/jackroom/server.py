"""A private JACK server on the dummy driver, which nobody else on the machine can meet."""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

TESTS = Path(__file__).parents[1]

DIES_WITH_US = ("setpriv", "--pdeathsig", "TERM", "--")
"""Prefix of a command that must not outlive a killed test run (util-linux, part of every Debian)."""

NAMES = 6
"""How many servers may run at once on one machine."""


@dataclass
class Server:
    """A server that has been started; it answers a little later, and can be started anew."""

    name: str
    env: dict[str, str]
    """Environment of every process that shall find it."""
    lock: int
    log: IO[bytes]
    process: subprocess.Popen[bytes] = field(init=False)

    def start(self, *, rate: int, period: int) -> None:
        """Start it; one of the same name must have ended before."""
        options = ["-R", "--no-mlock", "-n", self.name, "-d", "dummy", "-C", "2", "-P", "2"]
        options += ["-r", str(rate), "-p", str(period)]
        self.process = subprocess.Popen(
            [*DIES_WITH_US, "jackd", *options],
            env=self.env, stdin=subprocess.DEVNULL, stdout=self.log, stderr=self.log,
            start_new_session=True, pass_fds=(self.lock,),
        )  # fmt: skip


@contextmanager
def jack_server(*, rate: int, period: int, log: IO[bytes]) -> Iterator[Server]:
    """Yield a `Server` that writes what it has to say to `log`."""
    with _name() as (name, lock):
        env = os.environ | {
            "JACK_DEFAULT_SERVER": name,
            "JACK_NO_AUDIO_RESERVATION": "1",
            "JACK_NO_START_SERVER": "1",
            "PYTHONPATH": os.pathsep.join([str(TESTS), str(TESTS.parent)]),
        }
        server = Server(name, env, lock, log)
        server.start(rate=rate, period=period)
        try:
            yield server
        finally:
            end(server.process)


def end(process: subprocess.Popen[Any]) -> None:
    """End a process, politely first, and close its pipes."""
    process.send_signal(signal.SIGCONT)  # a paused process would not hear the next one
    process.terminate()
    try:
        process.wait(3.0)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            pipe.close()


@contextmanager
def _name() -> Iterator[tuple[str, int]]:
    """Yield a name nobody uses and the lock that says so, which the server shall hold, too.

    JACK keeps eight places for servers. One that is killed keeps its place until a server of the same
    name starts, so a new name for each run would leave none after eight killed servers.
    """
    for number in range(NAMES):
        name = f"secondpass-test-{number}"
        with (Path(tempfile.gettempdir()) / f"{name}.lock").open("w") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                continue
            yield name, lock.fileno()
            return
    message = f"{NAMES} JACK rooms are running already; end one of them"
    raise RuntimeError(message)
