"""Keeping the system awake and its screen unlocked while something plays, where it lets itself be asked.

The asking is `wakepy`'s: over D-Bus, by what macOS and Windows have for it, never by changing a setting. A
process that dies takes its wish with it. Only Linux without a desktop, where nobody answers, has run here.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

LEAVE_S = 1.0
"""How long a system that does not answer is waited for when nobody needs it awake any more."""


class Awake:
    """The wish that the system stays awake, for as long as there is a reason.

    The system is asked from a thread of its own: one that does not answer holds up nothing. Not for
    two threads at once.
    """

    def __init__(self) -> None:
        self._reasons: set[str] = set()
        self._enough = threading.Event()
        self._thread: threading.Thread | None = None
        self._refused = False
        self._told = False

    @contextmanager
    def held(self, reason: str) -> Iterator[None]:
        """Keep the system awake meanwhile."""
        self.keep(reason, True)
        try:
            yield
        finally:
            self.keep(reason, False)

    def keep(self, reason: str, wanted: bool) -> None:
        """Give a reason to stay awake, or take it back."""
        if wanted:
            self._reasons.add(reason)
        else:
            self._reasons.discard(reason)
        if self._reasons and self._thread is None:
            self._begin()
        elif not self._reasons and self._thread is not None:
            self._end()

    def rest(self) -> None:
        """Take every reason back."""
        self._reasons.clear()
        if self._thread is not None:
            self._end()

    def refused(self) -> bool:
        """Return whether the system has refused; only once, so that it is told once."""
        news, self._told = self._refused and not self._told, self._told or self._refused
        return news

    def _begin(self) -> None:
        self._enough = threading.Event()
        self._thread = threading.Thread(
            target=self._ask, args=(self._enough,), name="awake", daemon=True
        )
        self._thread.start()

    def _end(self) -> None:
        self._enough.set()
        if self._thread is not None:
            self._thread.join(LEAVE_S)
        self._thread = None

    def _ask(self, enough: threading.Event) -> None:
        """Wish until it is enough; a mode of wakepy belongs to the thread that made it."""
        try:
            from wakepy import keep  # noqa: PLC0415 - 30 ms that a start does not need

            with keep.presenting(on_fail="pass") as mode:
                self._refused = not mode.active
                enough.wait()
        except Exception:  # noqa: BLE001 - whatever the desktop's services do: it costs no pass
            self._refused = True
