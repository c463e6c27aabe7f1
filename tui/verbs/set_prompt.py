"""Questions between two steps, on a terminal; Ctrl+C leaves them as it leaves a step."""

from __future__ import annotations

import queue
import sys
import threading
from contextlib import suppress

from audio.jobs.deck import StoppedError
from tui.present.terminal import clean, put

LOOK_S = 0.1

LEAVE = "q"


class Prompt:
    """Asks in one line and waits for one, a letter or nothing.

    Parameters
    ----------
    stop
        Set when Ctrl+C was pressed.
    """

    def __init__(self, stop: threading.Event) -> None:
        self._stop = stop
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, name="prompt", daemon=True).start()

    def ask(self, question: str) -> str:
        """Return the answer, small letters without spaces; `LEAVE` where nobody is there any more.

        `StoppedError` on Ctrl+C.
        """
        put(sys.stderr, f"{clean(question)} > ")
        while not self._stop.is_set():
            try:
                line = self._lines.get(timeout=LOOK_S)
            except queue.Empty:
                continue
            return LEAVE if line is None else line.strip().lower()
        put(sys.stderr, "\n")
        raise StoppedError

    def forget(self) -> None:
        """Forget what was typed so far: it answers no question that comes now."""
        gone = False
        with suppress(queue.Empty):
            while True:
                gone = self._lines.get_nowait() is None or gone
        if gone:
            self._lines.put(None)

    def pressed(self, within_s: float) -> bool:
        """Wait so long; return whether something was typed, or nobody is there any more.

        `StoppedError` on Ctrl+C.
        """
        try:
            line = self._lines.get(timeout=within_s)
        except queue.Empty:
            if self._stop.is_set():
                raise StoppedError from None
            return False
        if line is None:
            self._lines.put(None)
        return True

    def _read(self) -> None:
        for line in sys.stdin:
            self._lines.put(line)
        self._lines.put(None)
