"""A private JACK server on the dummy driver, which nobody else on the machine can meet."""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

TESTS = Path(__file__).parents[1]

DIES_WITH_US = ("setpriv", "--pdeathsig", "TERM", "--")
"""Prefix of a command that must not outlive a killed test run (util-linux, part of every Debian)."""

NAMES = 6
"""How many servers may run at once on one machine."""


@dataclass(frozen=True)
class Server:
    """A server that has been started; it answers a little later."""

    name: str
    process: subprocess.Popen[bytes]
    env: dict[str, str]
    """Environment of every process that shall find it."""


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
        options = [
            "-R",
            "--no-mlock",
            "-n",
            name,
            "-d",
            "dummy",
            "-r",
            str(rate),
            "-p",
            str(period),
        ]
        process = subprocess.Popen(
            [*DIES_WITH_US, "jackd", *options, "-C", "2", "-P", "2"],
            env=env, stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True,
            pass_fds=(lock,),
        )  # fmt: skip
        try:
            yield Server(name, process, env)
        finally:
            end(process)


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
