"""When a key counts, and how long it is until the amp sounds. The clock is given, never read."""

from __future__ import annotations

import math

GUARD_S = 0.5
"""A key that starts or stops is deaf for so long after it was last pressed: holding it repeats it. A card's
go is deaf as long after its picture has changed."""


class Guard:
    """Lets a key through once, however long it is held."""

    def __init__(self) -> None:
        self._pressed_s = -math.inf

    def press(self, now_s: float) -> bool:
        """Note a press; return whether it counts."""
        counts = now_s - self._pressed_s >= GUARD_S
        self._pressed_s = now_s
        return counts


class Countdown:
    """Seconds until something starts."""

    def __init__(self) -> None:
        self._until_s: float | None = None

    @property
    def runs(self) -> bool:
        """Whether something is about to start."""
        return self._until_s is not None

    def begin(self, now_s: float, seconds: float) -> None:
        """Start something in so many seconds."""
        self._until_s = now_s + seconds

    def call_off(self) -> None:
        """Start nothing."""
        self._until_s = None

    def left_s(self, now_s: float) -> int | None:
        """Return the whole seconds left, rounded up; 0 once, when it is time; None while nothing runs."""
        if self._until_s is None:
            return None
        left = self._until_s - now_s
        if left > 0:
            return math.ceil(left)
        self._until_s = None
        return 0
