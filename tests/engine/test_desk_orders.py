"""Orders at the engine's desk, one by one: what a stop ended stays ended, and nothing starts by itself."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from accidents import wait_for

from audio.engine.desk import Desk
from audio.engine.stream import Stream
from audio.vocab.messages import (
    DeadEnd,
    Ended,
    Event,
    Open,
    Opened,
    Refused,
    Roll,
    Source,
    Started,
    Stop,
)
from audio.vocab.status import StatusWriter
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring

RATE = 44_100


class ByHand:
    """A desk whose inbox the test empties, so that what comes first is what the test says."""

    def __init__(self, folder: Path) -> None:
        self.said: list[Event] = []
        self.desk = Desk(send=self.said.append, status=StatusWriter(folder / "status"))

    def take(self, *orders: object) -> None:
        """Put orders in and take exactly so many things out."""
        for order in orders:
            self.desk.inbox.put(order)  # type: ignore[arg-type]
        for _ in orders:
            self.desk._next()

    def until_ended(self) -> Ended:
        seen = len(self.said)
        wait_for(lambda: self._looked(seen), "the roll did not end")
        return next(one for one in self.said[seen:] if isinstance(one, Ended))

    def _looked(self, seen: int) -> bool:
        self.desk._next()
        return any(isinstance(one, Ended) for one in self.said[seen:])

    @property
    def stream(self) -> Stream:
        assert self.desk._stream is not None
        return self.desk._stream

    def started(self) -> list[int]:
        return [one.roll_id for one in self.said if isinstance(one, Started)]

    def refused(self) -> list[int | None]:
        return [one.roll_id for one in self.said if isinstance(one, Refused)]


@pytest.fixture
def by_hand(tmp_path: Path) -> Iterator[ByHand]:
    one = ByHand(tmp_path)
    wiring = Wiring(
        name="room",
        device=SimulatedDevice(
            pace="free",
            inputs=2,
            outputs=2,
            amp=Amp(clean=True),
            microphones=(Microphone(input=2, gain_db=-150.0),),
            noise_dbfs=-150.0,
        ),
        sample_rate=RATE,
        send_output=1,
        returns=(Return("close", 2),),
        reference="close",
    )
    one.take(Open(wiring=wiring))
    assert isinstance(one.said[-1], Opened)
    yield one
    one.stream.close()


def long_roll(number: int) -> Roll:
    return Roll(roll_id=number, length_frames=3600 * RATE)


def short_roll(number: int) -> Roll:
    return Roll(roll_id=number, length_frames=RATE // 10)


def test_what_waits_starts_when_the_roll_before_ended_by_itself(by_hand: ByHand) -> None:
    by_hand.take(short_roll(1), short_roll(2))
    by_hand.until_ended()
    by_hand.until_ended()
    assert (by_hand.started(), by_hand.refused()) == ([1, 2], [])


def test_a_stop_refuses_what_waits(by_hand: ByHand) -> None:
    by_hand.take(long_roll(1), short_roll(2), Stop())
    assert by_hand.refused() == [2]
    assert by_hand.until_ended().reason == "stopped"
    assert by_hand.started() == [1]


def test_a_roll_asked_for_while_a_stop_is_under_way_is_refused(by_hand: ByHand) -> None:
    by_hand.take(long_roll(1), Stop(), short_roll(2), Stop(), short_roll(3))
    assert by_hand.refused() == [2, 3]
    by_hand.until_ended()
    assert by_hand.started() == [1]
    by_hand.take(short_roll(4))
    assert by_hand.until_ended().reason == "complete"
    assert by_hand.started() == [1, 4], "afterwards it may be asked for anew"


def test_a_stop_that_finds_the_roll_just_over_still_keeps_what_waits_from_starting(
    by_hand: ByHand,
) -> None:
    by_hand.take(short_roll(1), short_roll(2))
    by_hand.desk.inbox.put(Stop())  # before the roll's own end comes to the desk
    wait_for(lambda: by_hand.stream.recording is None, "the roll did not end")
    by_hand.desk._next()
    assert by_hand.refused() == [2]
    by_hand.until_ended()
    assert by_hand.started() == [1]


def test_what_waits_behind_a_dead_amp_does_not_start(by_hand: ByHand, tmp_path: Path) -> None:
    path = tmp_path / "di.wav"
    soundfile.write(path, np.full(10 * RATE, 0.5), RATE, subtype="PCM_24")
    source = Source(path=str(path), outputs=((0, 1.0),), reaches_send=True)
    dead = DeadEnd(
        output=0, loud_dbfs=-30.0, inputs=(1,), under_dbfs=(-80.0,), for_frames=RATE // 2
    )
    by_hand.take(
        Roll(roll_id=1, sources=(source,), dead=dead, length_frames=10 * RATE), short_roll(2)
    )
    assert by_hand.until_ended().reason == "dead"
    assert (by_hand.started(), by_hand.refused()) == ([1], [2])
