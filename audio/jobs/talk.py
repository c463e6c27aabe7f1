"""How a job talks to whoever runs it: steps in words, progress in numbers, and the question "stop?"."""

from __future__ import annotations

from typing import Protocol

from audio.vocab.status import Status
from audio.vocab.wiring import Wiring


class Listener(Protocol):
    """A face, as a job sees it. Called from the job's own thread."""

    def heading(self, text: str) -> None:
        """Take one line: something begins."""

    def step(self, text: str) -> None:
        """Take one line: something is known now of what began last."""

    def begins(self, wiring: Wiring, *, frames: int) -> None:
        """Take note that a roll begins, through this wiring: its names are those of the levels.

        `frames` is the roll frame at which nothing plays any more and the tail begins; 0 where the roll
        only listens.
        """

    def rolling(self, status: Status) -> None:
        """Take a picture of the engine, about twenty times a second while a roll runs."""

    def ends(self) -> None:
        """Take note that the roll is over."""

    def stop_asked(self) -> bool:
        """Return whether the engineer wants it to stop; what was recorded is kept."""


class Silent:
    """A listener that hears nothing and never stops a job: for benchmarks, and to build others on."""

    def heading(self, text: str) -> None:
        """Ignore it."""

    def step(self, text: str) -> None:
        """Ignore it."""

    def begins(self, wiring: Wiring, *, frames: int) -> None:
        """Ignore it."""

    def rolling(self, status: Status) -> None:
        """Ignore it."""

    def ends(self) -> None:
        """Ignore it."""

    def stop_asked(self) -> bool:
        """Never."""
        return False
