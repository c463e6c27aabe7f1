"""A private JACK server on the dummy driver, which nobody else on the machine can meet."""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

TESTS = Path(__file__).parents[1]

DIES_WITH_US = ("setpriv", "--pdeathsig", "TERM", "--")
"""Prefix of a command that must not outlive a killed test run (util-linux, part of every Debian)."""

NAME = "secondpass-test"
"""The server's name. Always the same: JACK keeps eight places for servers, and one that is killed keeps its
place until a server of its name starts."""

TURN_S = 600.0
"""How long to wait for somebody else's server to end."""

LEAVES_S = 5.0
"""How long a killed server may still be a process; then the number is somebody else's by now."""


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
        os.pwrite(self.lock, f"{self.process.pid:10}".encode(), 0)


@contextmanager
def jack_server(*, rate: int, period: int, log: IO[bytes]) -> Iterator[Server]:
    """Yield a `Server` that writes what it has to say to `log`."""
    with _turn() as lock:
        env = os.environ | {
            "JACK_DEFAULT_SERVER": NAME,
            "JACK_NO_AUDIO_RESERVATION": "1",
            "JACK_NO_START_SERVER": "1",
            "PYTHONPATH": os.pathsep.join([str(TESTS), str(TESTS.parent)]),
        }
        server = Server(NAME, env, lock, log)
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
def _turn() -> Iterator[int]:
    """Wait until nobody on this machine runs a server of ours; yield the lock that says so.

    The server shall hold it, too. One at a time, because JACK names the socket over which a server calls a
    client back after the client alone: where clients of one name come to two servers at the same moment,
    each server may call the other's.
    """
    until = time.monotonic() + TURN_S
    lock = os.open(Path(tempfile.gettempdir()) / f"{NAME}.lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        while not _is_ours(lock):
            if time.monotonic() > until:
                message = f"a JACK room has been running for {TURN_S:.0f} s; end it"
                raise RuntimeError(message)
            time.sleep(0.05)
        until = time.monotonic() + LEAVES_S
        while _is_leaving(lock) and time.monotonic() < until:
            time.sleep(0.05)
        yield lock
        os.ftruncate(lock, 0)
    finally:
        os.close(lock)


def _is_ours(lock: int) -> bool:
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is_leaving(lock: int) -> bool:
    """Return whether a killed server is still a process, if a dead one: JACK takes its name for taken."""
    number = os.pread(lock, 10, 0)
    try:
        os.kill(int(number), 0)
    except (ValueError, ProcessLookupError, PermissionError):  # ended in good order, gone, not ours
        return False
    return True
