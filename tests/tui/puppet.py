"""A session that does what the test says, for a screen that needs no sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from audio.jobs.news import News, SoundsRead, VariantRead
from audio.jobs.orders import Asked, LookAtSounds, LookAtVariant, Looked
from audio.vocab.listening import Steer
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
    sounds: SoundsRead | None = None
    """What it answers who looks at what there is to listen to."""
    steers: list[Steer] = field(default_factory=list)
    stops: int = 0
    """How often it was stopped."""
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
        elif isinstance(looked, LookAtSounds) and self.sounds is not None:
            self.tell(self.sounds)

    def steer(self, asked: Steer) -> None:
        self.steers.append(asked)

    def stop(self) -> None:
        self.stops += 1

    def status(self) -> Status:
        return self.shown

    def leave_rolling(self) -> None:
        """Leave nothing."""

    def close(self) -> None:
        """Hold nothing."""
