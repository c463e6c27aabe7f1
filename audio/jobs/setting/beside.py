"""Measuring beside a roll: what takes a moment must hold up neither the listener nor a stop."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Generic, TypeVar

from audio.vocab.errors import SecondpassError

T = TypeVar("T")


class Beside(Generic[T]):
    """Asks one thing at a time in a thread of its own; what is asked meanwhile is passed over.

    Attributes
    ----------
    newest
        What was answered last; None while nothing was. A question that failed leaves it as it is: the
        same is asked again of the closed files, and fails there with its reason.
    """

    def __init__(self) -> None:
        self.newest: T | None = None
        self._thread: threading.Thread | None = None

    @property
    def is_free(self) -> bool:
        """Whether something can be asked now."""
        return self._thread is None or not self._thread.is_alive()

    def ask(self, question: Callable[[], T]) -> None:
        """Have a question answered, if none is being answered."""
        if not self.is_free:
            return

        def answer() -> None:
            with suppress(SecondpassError):
                self.newest = question()

        self._thread = threading.Thread(target=answer, name="beside", daemon=True)
        self._thread.start()

    def join(self) -> None:
        """Wait until nothing is asked any more."""
        if self._thread is not None:
            self._thread.join()
