"""A throwaway session with one long DI, and a deck that notes when its rolls began and ended."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from time import time
from typing import Any

from material import RATE, write_long_di

from audio.jobs.deck import Deck
from audio.jobs.sessions import new_session
from audio.jobs.talk import Silent
from audio.session.opened import Session
from audio.vocab.messages import Ended
from audio.vocab.wiring import Microphone, Return, SimulatedDevice, Wiring
from audio.work.client import Worker

PART = "long"
CABINETS = ("closed back", "open back", "floor bounce", "two speakers")


@contextmanager
def long_session(*, seconds: float) -> Iterator[Session]:
    """Yield a new session whose one part, `PART`, lasts so long; it goes away afterwards."""
    with TemporaryDirectory(prefix="secondpass-bench-") as folder, Worker() as worker:
        di = write_long_di(Path(folder) / f"{PART}.wav", seconds=seconds)
        session, _ = new_session(
            Path(folder) / "session",
            dis=(di,),
            channel=1,
            wiring_path=None,
            song=None,
            bpm=None,
            metre=None,
            worker=worker,
        )
        yield session


def simulated_wiring(*, paced: bool) -> Wiring:
    """Return four microphones in the simulated room, in front of an amp with some drive."""
    microphones = tuple(
        Microphone(input=number, distance_cm=7.0 * number, cabinet=cabinet)
        for number, cabinet in enumerate(CABINETS, start=2)
    )
    return Wiring(
        name="four microphones",
        device=SimulatedDevice(pace="clock" if paced else "free", microphones=microphones),
        sample_rate=RATE,
        send_output=3,
        returns=tuple(Return(name=f"mic {m.input}", input=m.input) for m in microphones),
        reference="mic 2",
    )


@dataclass(frozen=True)
class Timed:
    """One roll as it was."""

    began: float
    ended: float
    """Seconds of the system's clock, as files are stamped with."""
    kept: bool
    """Whether it was the DI's: the roll that keeps a record."""


class NotingDeck(Deck):
    """A deck that keeps the times of its rolls."""

    def __init__(self, wiring: Wiring, listener: Silent) -> None:
        self.rolls: list[Timed] = []
        super().__init__(wiring, listener)

    def play(self, **roll: Any) -> Ended:
        """Play it and note when."""
        began = time()
        ended = super().play(**roll)
        self.rolls.append(Timed(began=began, ended=time(), kept=roll.get("record") is not None))
        return ended
