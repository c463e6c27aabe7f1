"""Orders in the order they were put in, and the stop that forgets all before it."""

from __future__ import annotations

import queue
from collections import deque
from typing import TypeVar

from audio.jobs.deck import StoppedError
from audio.jobs.orders import SOUNDING, Asked

_K = TypeVar("_K")


class OrderQueue:
    """For many threads that put in, and one that obeys."""

    def __init__(self) -> None:
        # How often stop was asked: an order goes by the count at which it was put in.
        self._stops = 0
        self._obeying = 0
        self._orders: queue.SimpleQueue[tuple[int, Asked] | None] = queue.SimpleQueue()
        self._kept: deque[tuple[int, Asked] | None] = deque()
        """Taken out already, and not to be obeyed beside another one."""

    def put(self, asked: Asked) -> None:
        """Put an order in."""
        self._orders.put((self._stops, asked))

    def close(self) -> None:
        """Let nothing be obeyed after what was put in so far."""
        self._orders.put(None)

    def stop(self) -> None:
        """Stop the order under way, and let no order that sounds be obeyed of those put in so far."""
        self._stops += 1

    def next(self, timeout_s: float) -> Asked | None:
        """Return the next order, None after the last; `queue.Empty` where none comes in time."""
        order = self._kept.popleft() if self._kept else self._orders.get(timeout=timeout_s)
        if order is None:
            return None
        self._obeying, asked = order
        return asked

    def beside(self, kinds: tuple[type[_K], ...]) -> _K | None:
        """Return an order of some kinds that may be obeyed beside the one under way; None where none waits.

        One of another kind stops the one under way, and is next when that is over; so does the end.
        """
        while not self._kept:
            try:
                order = self._orders.get_nowait()
            except queue.Empty:
                return None
            asked = order[1] if order is not None else None
            if isinstance(asked, kinds):
                return asked
            self._kept.append(order)
        return None

    def stop_asked(self) -> bool:
        """Return whether the order under way is to stop."""
        return self._obeying != self._stops or bool(self._kept)

    def refuse_forgotten(self, asked: Asked) -> bool:
        """Return whether an order was forgotten by a stop; `StoppedError` where it would have sounded."""
        forgotten = self.stop_asked()
        if forgotten and isinstance(asked, SOUNDING):
            raise StoppedError
        return forgotten
