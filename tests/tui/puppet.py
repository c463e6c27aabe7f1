"""A session that does what the test says, for a screen that needs no sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from audio.jobs.news import News, VariantRead
from audio.jobs.orders import Asked, LookAtVariant, Looked
from audio.vocab.status import Meters, Status

SILENT = Meters((0.0,) * 8, (0.0,) * 8, (0.0,) * 8, (0,) * 8)
QUIET = Status(0, 0, 0, 0, -1, 0, 0, 0, SILENT, SILENT)


@dataclass
class Puppet:
    """A session that does what the test says: it takes every order, and nothing comes of it."""

    folder: Path
    shown: Status = QUIET
    orders: list[Asked | Looked] = field(default_factory=list)
    read: tuple[VariantRead, ...] = ()
    """What it answers who looks at a variant."""
    tell: Callable[[News], None] = print

    def start(self, tell: Callable[[News], None]) -> None:
        self.tell = tell

    def ask(self, asked: Asked) -> None:
        self.orders.append(asked)

    def look(self, looked: Looked) -> None:
        self.orders.append(looked)
        if isinstance(looked, LookAtVariant):
            for one in self.read:
                if (one.part, one.number) == (looked.part, looked.number):
                    self.tell(one)

    def stop(self) -> None:
        """Take note of nothing."""

    def status(self) -> Status:
        return self.shown

    def leave_rolling(self) -> None:
        """Leave nothing."""

    def close(self) -> None:
        """Hold nothing."""
