"""Work beside a roll: what takes a moment must hold up neither the listener nor a stop."""

from __future__ import annotations

import threading
from collections.abc import Callable

from audio.vocab.errors import SecondpassError


class Beside:
    """Does one thing again and again in a thread of its own, each time once it is free and told to.

    What fails with a `SecondpassError` is passed over: whoever needs it asks again when the roll is over,
    and hears the reason then.

    Parameters
    ----------
    do
        What is done; None where there is nothing.
    every
        How much must have passed since it was last begun, in what `nudge` is told.
    """

    def __init__(self, do: Callable[[], None] | None, *, every: int) -> None:
        self._do = do
        self._every = every
        self._due = 0
        self._thread: threading.Thread | None = None
        self._error: Exception | None = None

    def nudge(self, at: int) -> None:
        """Have it done once more, unless it is too early or it is being done."""
        if self._do is None or at < self._due:
            return
        if self._thread is not None and self._thread.is_alive():
            return
        self._due = at + self._every
        self._thread = threading.Thread(target=self._once, args=(self._do,), daemon=True)
        self._thread.start()

    def join(self) -> None:
        """Wait until it is done; raise what went wrong in it, if that was no `SecondpassError`."""
        if self._thread is not None:
            self._thread.join()
        if self._error is not None:
            raise self._error

    def _once(self, do: Callable[[], None]) -> None:
        try:
            do()
        except SecondpassError:
            pass
        except Exception as error:  # noqa: BLE001 - raised again by who waits for it
            self._error = error
