"""Handing what was written to the disk, in a thread of its own: a slow sync must not hold up the writer."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable


class Syncer:
    """One thread that syncs when asked to, and is not asked again while it does."""

    def __init__(self) -> None:
        self._asked: queue.SimpleQueue[Callable[[], None] | None] = queue.SimpleQueue()
        self._busy = False
        self._thread = threading.Thread(target=self._run, name="syncer", daemon=True)

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def ask(self, sync: Callable[[], None]) -> bool:
        """Have something synced; False, and nothing is done, while the disk is still at the last."""
        if self._busy:
            return False
        self._busy = True
        self._asked.put(sync)
        return True

    def close(self) -> None:
        """Let the thread end after what it does now; nobody waits for it."""
        self._asked.put(None)

    def _run(self) -> None:
        while (sync := self._asked.get()) is not None:
            try:
                sync()
            finally:
                self._busy = False
