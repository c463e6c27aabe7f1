"""The face's side of the engine: starts the process, sends commands, hands out events.

No numpy here. A dead engine is noticed at once; what it leaves is for `audio.session` to mend.
"""

from __future__ import annotations

import contextlib
import queue
import subprocess
import threading
from pathlib import Path
from typing import IO, Self

import msgspec

from audio.vocab.children import command, environment
from audio.vocab.errors import DeviceError
from audio.vocab.messages import Command, Event, Leave, Ready, decode_event, encode
from audio.vocab.status import Status, StatusReader

START_LIMIT_S = 20.0
LEAVE_LIMIT_S = 6.0

GONE = "the audio engine ended unexpectedly; what was recorded is kept"


class Engine:
    """One engine process.

    Raises
    ------
    DeviceError
        If it does not start.
    """

    def __init__(self) -> None:
        self._process = subprocess.Popen(  # noqa: S603 - this program's own module
            command("audio.engine.process"),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            env=environment(),
        )
        self._events: queue.SimpleQueue[Event | None] = queue.SimpleQueue()
        self._ended = False
        self._reader: StatusReader | None = None
        self._reading = threading.Lock()
        self._sending = threading.Lock()
        self._listening = threading.Thread(target=self._listen, name="engine events", daemon=True)
        self._listening.start()
        ready = self.event(START_LIMIT_S)
        if not isinstance(ready, Ready):
            self._process.kill()
            raise DeviceError("the audio engine did not start")
        self.pid = ready.pid
        self._reader = _mapped(Path(ready.status_path))

    def _listen(self) -> None:
        # Whoever reads closes, also the pipe of an engine that was left alone.
        with _pipe(self._process.stdout) as pipe:
            for line in pipe:
                try:
                    self._events.put(decode_event(line))
                except msgspec.ValidationError:  # what it says next cannot be trusted either
                    break
        self._events.put(None)

    def send(self, command: Command) -> None:
        """Send a command, from any thread; raise `DeviceError` if the engine is gone."""
        pipe = _pipe(self._process.stdin)
        try:
            with self._sending:
                pipe.write(encode(command))
                pipe.flush()
        except (OSError, ValueError) as error:
            raise DeviceError(GONE) from error

    def event(self, timeout_s: float) -> Event | None:
        """Return the next event, or None when none came in time.

        Parameters
        ----------
        timeout_s
            Seconds to wait.

        Returns
        -------
        Event or None
            In the order in which the engine sent them.

        Raises
        ------
        DeviceError
            If the engine has ended and every event it sent was handed out.
        """
        if self._ended:
            raise DeviceError(GONE)
        try:
            event = self._events.get(timeout=timeout_s)
        except queue.Empty:
            return None
        if event is None:
            self._ended = True
            raise DeviceError(GONE)
        return event

    def status(self) -> Status | None:
        """Return the newest picture of the engine, or None before there is one or after it was closed.

        Safe to call from any thread.
        """
        with self._reading:
            return self._reader.read() if self._reader is not None else None

    def leave_alone(self) -> None:
        """Let go of the engine without a word: it finishes the pass it is in, and ends by itself."""
        self._let_go()
        # Nobody waits for it any more: the system takes over when this process ends.
        self._process.returncode = 0

    def close(self) -> None:
        """Ask the engine to leave, wait, and kill it only when it does not."""
        with contextlib.suppress(DeviceError):
            self.send(Leave())
        try:
            self._process.wait(LEAVE_LIMIT_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._let_go()
        self._listening.join()

    def _let_go(self) -> None:
        with self._reading:
            self._ended = True
            if self._reader is not None:
                self._reader.close()
                self._reader = None
        with contextlib.suppress(OSError):
            _pipe(self._process.stdin).close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _mapped(status: Path) -> StatusReader | None:
    """Map the status block and take its folder away: an engine that is killed leaves nothing behind."""
    try:
        return StatusReader(status)
    except OSError:
        return None
    finally:
        # Both sides hold it; where the system keeps what is open, the engine removes it when it leaves.
        with contextlib.suppress(OSError):
            status.unlink()
            status.parent.rmdir()


def _pipe(pipe: IO[bytes] | None) -> IO[bytes]:
    if pipe is None:
        raise DeviceError("the engine was started without a pipe")
    return pipe
