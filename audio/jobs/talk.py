"""How a job talks to whoever runs it: steps in words, progress in numbers, and the question "stop?"."""

from __future__ import annotations

from typing import Literal, Protocol

import msgspec

from audio.verdict.heard import Heard
from audio.vocab.setup import Live
from audio.vocab.status import Status
from audio.vocab.wiring import Wiring

__all__ = ["Heard", "Listener", "RollKind", "Rolling", "Silent"]

RollKind = Literal["click", "listen", "pass", "set", "flip"]
"""``listen`` plays nothing: it waits for the returns to be quiet, or measures them. ``set`` plays a tone or
a stretch of the DI while something is set. ``flip`` plays variants to people, and sends nothing."""


class Rolling(msgspec.Struct, frozen=True, kw_only=True):
    """A roll that begins, as a face needs it to draw what comes; frames are the roll's own."""

    wiring: Wiring
    """Its names are those of the levels."""
    what: RollKind
    plays_until: int
    """Frame at which nothing plays any more and the tail begins; 0 where the roll only listens."""
    length_frames: int
    """Longest it may be."""
    lead_in_frames: int = 0
    """Frame at which the first frame that is played of the DI leaves."""
    shift_frames: int = 0
    """Frames after which it comes back."""
    cue_outputs: tuple[int, ...] = ()
    """Outputs, from 1, on which people hear what is never sent."""
    di_from_frame: int = 0
    """The DI's frame that leaves first."""


class Listener(Protocol):
    """A face, as a job sees it. Called from the job's own thread."""

    def heading(self, text: str) -> None:
        """Take one line: something begins."""

    def step(self, text: str) -> None:
        """Take one line: something is known now of what began last."""

    def claimed(self, part: str, number: int, chain: str) -> None:
        """Take note that a pass has its number."""

    def measured(self, heard: Heard) -> None:
        """Take what the eight test clicks said, before a pass or by themselves."""

    def live(self, live: Live) -> None:
        """Take what a step of the set-up shows now."""

    def begins(self, roll: Rolling) -> None:
        """Take note that a roll begins."""

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

    def claimed(self, part: str, number: int, chain: str) -> None:
        """Ignore it."""

    def measured(self, heard: Heard) -> None:
        """Ignore it."""

    def live(self, live: Live) -> None:
        """Ignore it."""

    def begins(self, roll: Rolling) -> None:
        """Ignore it."""

    def rolling(self, status: Status) -> None:
        """Ignore it."""

    def ends(self) -> None:
        """Ignore it."""

    def stop_asked(self) -> bool:
        """Never."""
        return False
