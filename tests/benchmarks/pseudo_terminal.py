"""A program on a pseudo terminal: when which words were written to it, and keys pressed on it."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import termios
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

LONGEST_S = 60.0

OTHER_SCREEN = b"\x1b[?1049h"
"""xterm's switch to the alternate screen; what a full-screen program draws comes after it."""

_SEQUENCES = re.compile(
    rb"\x1b(?:\[[0-?]*[ -/]*[@-~]|[P\]X^_].*?(?:\x07|\x1b\\)|[ -/]*[0-~])", re.DOTALL
)
"""Control sequences of ECMA-48, 5.3 to 5.6, and strings ended by BEL, as xterm allows them."""


def words(written: bytes) -> str:
    """Return what was written without what steers the terminal."""
    return _SEQUENCES.sub(b"", written).decode(errors="replace")


def draws(written: bytes) -> bool:
    """Return whether the program has drawn anything that can be read on its own screen."""
    _, switched, after = written.partition(OTHER_SCREEN)
    return bool(switched) and bool(words(after).strip())


class OnTerminal:
    """A program that runs, and everything it has written since `forget`."""

    def __init__(self, terminal: int, process: subprocess.Popen[bytes], began_s: float) -> None:
        self._terminal = terminal
        self.process = process
        self.began_s = began_s
        """When it was started, of `time.perf_counter`."""
        self.written = b""

    def press(self, key: bytes) -> float:
        """Press a key; return when."""
        os.write(self._terminal, key)
        return time.perf_counter()

    def forget(self) -> None:
        """Forget what was written up to now."""
        self.written = b""

    def rest(self, seconds: float) -> None:
        """Keep reading for so long."""
        end_s = time.perf_counter() + seconds
        while (left_s := end_s - time.perf_counter()) > 0:
            self._read(left_s)

    def until(self, seen: Callable[[bytes], bool], limit_s: float = LONGEST_S) -> float:
        """Read until what was written is as asked; return when that was."""
        give_up_s = time.perf_counter() + limit_s
        while not seen(self.written):
            if not self._read(give_up_s - time.perf_counter()):
                raise RuntimeError(f"it never came; there stood: {words(self.written)[-2000:]}")
        return time.perf_counter()

    def until_words(self, *wanted: str, limit_s: float = LONGEST_S) -> float:
        """Read until each of these was written; return when that was."""
        return self.until(lambda all_: all(one in words(all_) for one in wanted), limit_s)

    def _read(self, limit_s: float) -> bool:
        """Take what comes within a time; return whether anything did."""
        ready, _, _ = select.select([self._terminal], [], [], max(limit_s, 0.0))
        if not ready:
            return False
        try:
            block = os.read(self._terminal, 1 << 16)
        except OSError:  # Linux says EIO where the other end is closed
            block = b""
        self.written += block
        return bool(block)

    def quit(self, *keys: bytes) -> None:
        """Press the keys that end it, and read until it has ended."""
        for key in keys:
            self.press(key)
        give_up_s = time.perf_counter() + LONGEST_S
        while self.process.poll() is None and time.perf_counter() < give_up_s:
            self._read(0.05)


@contextmanager
def on_terminal(
    command: Sequence[str | Path],
    *,
    columns: int,
    rows: int,
    env: Mapping[str, str] | None = None,
) -> Iterator[OnTerminal]:
    """Start a program on a terminal of so many cells; it is gone afterwards."""
    terminal, end = pty.openpty()
    fcntl.ioctl(end, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    began_s = time.perf_counter()
    process = subprocess.Popen(
        command, stdin=end, stdout=end, stderr=end, env=_environment(env), start_new_session=True
    )
    os.close(end)
    try:
        yield OnTerminal(terminal, process, began_s)
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGKILL)
        process.wait()
        os.close(terminal)


def _environment(env: Mapping[str, str] | None) -> dict[str, str]:
    given = os.environ if env is None else env
    kept = {key: value for key, value in given.items() if key not in ("NO_COLOR", "TMUX")}
    return kept | {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
