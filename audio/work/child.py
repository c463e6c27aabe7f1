"""One run of the worker's process, seen from the face: it is asked, answers, and is ended."""

from __future__ import annotations

import contextlib
import queue
import subprocess
import tempfile
import threading
from typing import IO, cast

import msgspec

from audio.vocab.answers import Answered
from audio.vocab.children import command, environment
from audio.vocab.errors import DeviceError
from audio.vocab.requests import Asked
from audio.vocab.work import Envelope, Reply, decode_reply, encode

_LEAVE_S = 1.0
"""How long a child may take to leave by itself, and again after it was told to."""


class Child:
    """One run of the worker's process.

    Parameters
    ----------
    ready
        Let it load beforehand what following a pass needs.
    """

    def __init__(self, *, ready: bool) -> None:
        self._said: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - closed with the child
        self._number = 0
        self._answers: queue.SimpleQueue[Reply | None] = queue.SimpleQueue()
        self._process = subprocess.Popen(  # noqa: S603 - this program's own module
            [*command("audio.work.process"), *(["ready"] if ready else [])],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._said,
            env=environment(),
            process_group=0,
        )
        self._questions = cast("IO[bytes]", self._process.stdin)
        self._replies = cast("IO[bytes]", self._process.stdout)
        self._reader = threading.Thread(target=self._read, name="worker answers", daemon=True)
        self._reader.start()

    def ask(self, asked: Asked, timeout_s: float) -> Answered:
        """Ask and return the answer; `DeviceError` where the process gives none in time, or has ended."""
        self._number += 1
        try:
            self._questions.write(encode(Envelope(number=self._number, asked=asked)))
            self._questions.flush()
            reply = self._answers.get(timeout=timeout_s)
        except queue.Empty:
            what = type(asked).__name__
            raise DeviceError(
                f"the worker gave no answer to {what} within {timeout_s:g} s and was ended"
            ) from None
        except OSError:
            reply = None
        if reply is None or reply.number != self._number:
            raise DeviceError(f"the worker process ended by itself{self._last_words()}; try again")
        return reply.answered

    def end(self) -> None:
        """End the process: by closing its input, then by asking, then by force."""
        for step in (self._hang_up, self._process.terminate, self._process.kill):
            step()
            try:
                self._process.wait(_LEAVE_S)
                break
            except subprocess.TimeoutExpired:
                continue
        self._reader.join(_LEAVE_S)
        if not self._reader.is_alive():
            self._replies.close()
        self._said.close()

    def _hang_up(self) -> None:
        with contextlib.suppress(OSError):
            self._questions.close()

    def _read(self) -> None:
        # What cannot be read has lost the thread: there are no more answers then.
        with contextlib.suppress(msgspec.ValidationError):
            for line in self._replies:
                self._answers.put(decode_reply(line))
        self._answers.put(None)

    def _last_words(self) -> str:
        """Return what the process printed last, for the one who has to find out."""
        try:
            self._said.seek(0)
            lines = self._said.read().decode(errors="replace").split("\n")
        except ValueError:  # it was ended meanwhile, by another thread
            return ""
        said = [line.strip() for line in lines if line.strip()]
        return f" ({said[-1]})" if said else ""
