"""Questions between two steps, on a terminal; Ctrl+C leaves them as it leaves a step."""

from __future__ import annotations

import queue
import sys
import threading

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

    def _read(self) -> None:
        for line in sys.stdin:
            self._lines.put(line)
        self._lines.put(None)
