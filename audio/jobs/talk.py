"""How a job talks to whoever runs it: steps in words, progress in numbers, and the question "stop?"."""

from __future__ import annotations

from typing import Protocol

from audio.vocab.status import Status


class Listener(Protocol):
    """A face, as a job sees it. Called from the job's own thread."""

    def step(self, text: str) -> None:
        """Take one line: something begins, or something is known now."""

    def rolling(self, status: Status, *, rate: int) -> None:
        """Take a picture of the engine, about twenty times a second while a roll runs."""

    def stop_asked(self) -> bool:
        """Return whether the engineer wants it to stop; what was recorded is kept."""


class Silent:
    """Listens to nothing and never stops."""

    def step(self, text: str) -> None:
        """Ignore it."""

    def rolling(self, status: Status, *, rate: int) -> None:
        """Ignore it."""

    def stop_asked(self) -> bool:
        """Never."""
        return False
