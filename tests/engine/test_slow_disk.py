"""A disk below real time: noticed before frames are lost, and what was recorded is whole."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import soundfile
from accidents import wait_for
from hand import Hand, turn_while

from audio.device.port import Block
from audio.engine import block
from audio.engine.desk import Desk
from audio.engine.outlets import Outlets
from audio.engine.stream import Stream
from audio.files import platform
from audio.vocab.messages import (
    Behind,
    Capture,
    Ended,
    Event,
    Leave,
    Open,
    Opened,
    Roll,
    Source,
    Started,
)
from audio.vocab.status import StatusWriter
from audio.vocab.wiring import Return, SimulatedDevice, Wiring

RATE = 16_000
FADE = RATE // 100
BLOCK = 256
SEND = 2
BYTES = 3


class SlowDisk:
    """Stands in for the system's writing of files: takes bytes only as it is told to."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.open = threading.Event()
        self.open.set()
        self.blocked = threading.Event()
        self._write = platform.write
        monkeypatch.setattr(platform, "write", self.write)

    def write(self, fd: int, data: memoryview) -> int:
        if not self.open.is_set():
            self.blocked.set()
            self.open.wait()
        return self._write(fd, data)


class Room:
    """A stream on a device turned by hand, whose input tells which frame it is."""

    def __init__(self) -> None:
        self.device = Hand(rate=RATE, block_frames=BLOCK, channels=4, sample_format="int32")
        self.device.answer = count
        self.ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
        self.stream = Stream(
            self.device,
            outlets=Outlets(amp=frozenset({SEND}), ears=frozenset()),
            publish=lambda _: None,
            ended=self.ended.put,
            broken=pytest.fail,
        )
        self.stream.start()

    def roll(self, folder: Path, *, seconds: float) -> int:
        di = folder / "di.wav"
        if not di.exists():
            soundfile.write(di, np.full(60 * RATE, 0.5), RATE, subtype="PCM_24")
        number = len(list(folder.glob("back*.wav")))
        return self.stream.roll(
            Roll(
                roll_id=number,
                sources=(Source(path=str(di), outputs=((SEND, 1.0),), reaches_send=True),),
                captures=(Capture(path=str(folder / f"back{number}.wav"), inputs=(0,)),),
                length_frames=round(seconds * RATE),
            )
        )

    def turn(self, frames: int, *, until: Callable[[], bool] = lambda: False) -> None:
        """Turn the device at its own pace: it waits for nobody but the feed."""
        for _ in range(frames // BLOCK):
            if until():
                return
            program = self.stream.callback.program
            while program is not None and not program.ready(self.device.frame, BLOCK):
                time.sleep(0.0005)
            self.device.turn(BLOCK)

    def written(self) -> None:
        """Wait until all that was captured so far is fetched."""
        callback = self.stream.callback
        wait_for(lambda: callback.drained >= callback.frame, "the writer stopped")


def count(frame: int, heard: Block) -> None:
    heard[:, 0] = (np.arange(frame, frame + len(heard)) % (1 << 22)) << 8


def is_counted(path: Path, *, start: int) -> bool:
    """Return whether a capture holds one frame after the other, none missing and none twice."""
    codes = soundfile.read(path, dtype="int32")[0] >> 8
    return bool(np.array_equal(codes, np.arange(start, start + len(codes)) % (1 << 22)))


@contextmanager
def running() -> Iterator[Room]:
    room = Room()
    try:
        yield room
    finally:
        turn_while(room.device, room.stream.close, frames=BLOCK)


def test_a_disk_that_stands_still_stops_the_roll_with_a_fade_and_no_captured_frame_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = SlowDisk(monkeypatch)
    with running() as room:
        start = room.roll(tmp_path, seconds=30)
        room.turn(RATE)
        room.written()
        disk.open.clear()
        ring = room.stream.callback.captured.size
        room.turn(2 * ring, until=lambda: room.stream.behind is not None)
        noticed = room.device.frame - room.stream.callback.drained
        assert noticed <= ring // 2 + 2 * BLOCK, "long before the ring is full"
        room.turn(3 * ring)
        assert room.ended.empty(), "it ends when everything is written"
        disk.open.set()
        ended = room.ended.get(timeout=20)
        sent = room.device.levels()[start + 1 :, SEND]
        assert ended.reason == "slow disk"
        assert ended.dropouts == ()
        assert ended.recorded[0].frames == ended.frames
        assert ended.frames > ring // 2
        assert is_counted(tmp_path / "back0.wav", start=start)
        assert np.abs(np.diff(sent)).max() < 0.5 * 2 / FADE
        assert not sent[ended.frames :].any()
        # The rings are in order again: the next roll records every frame.
        room.turn(4 * BLOCK)
        room.written()
        again = room.roll(tmp_path, seconds=1)
        room.turn(2 * RATE)
        assert room.ended.get(timeout=20).reason == "complete"
        assert is_counted(tmp_path / "back1.wav", start=again)


def test_a_disk_at_half_of_real_time_is_noticed_and_what_was_captured_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with running() as room:
        start = room.roll(tmp_path, seconds=60)
        write, taken, through = platform.write, [0], threading.Event()

        def throttled(fd: int, data: memoryview) -> int:
            while not through.is_set() and taken[0] > room.device.frame * BYTES // 2:
                time.sleep(0.0002)
            done = write(fd, data)
            taken[0] += done
            return done

        monkeypatch.setattr(platform, "write", throttled)
        room.turn(60 * RATE, until=lambda: room.stream.behind is not None)
        assert room.stream.behind == 0
        room.turn(RATE)
        through.set()
        ended = room.ended.get(timeout=20)
    assert (ended.reason, ended.dropouts) == ("slow disk", ())
    assert is_counted(tmp_path / "back0.wav", start=start)
    assert ended.recorded[0].frames == ended.frames < 30 * RATE


def test_a_slow_sync_alone_holds_nothing_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, done = threading.Event(), threading.Event()

    def stuck(_: int) -> None:
        asked.set()
        done.wait()

    with running() as room:
        start = room.roll(tmp_path, seconds=20)
        monkeypatch.setattr(platform, "sync_data", stuck)
        for _ in range(18):
            room.turn(RATE)
            room.written()
        assert asked.is_set()
        assert room.stream.behind is None
        done.set()
        room.turn(3 * RATE)
        assert room.ended.get(timeout=20).reason == "complete"
    assert is_counted(tmp_path / "back0.wav", start=start)


def test_frames_that_find_no_room_are_counted_and_the_rest_stays_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(block, "PATIENCE", 10.0)  # nobody stops the roll in time
    disk = SlowDisk(monkeypatch)
    with running() as room:
        start = room.roll(tmp_path, seconds=20)
        room.turn(RATE)
        room.written()
        disk.open.clear()
        ring = room.stream.callback.captured.size
        room.turn(ring + RATE)
        disk.open.set()
        room.turn(20 * RATE, until=lambda: room.stream.callback.gap_until != 0)
        room.written()
        room.turn(20 * RATE)
        ended = room.ended.get(timeout=20)
    codes = soundfile.read(tmp_path / "back0.wav", dtype="int32")[0] >> 8
    lost = np.flatnonzero(codes != np.arange(start, start + len(codes)) % (1 << 22))
    (dropout,) = ended.dropouts
    assert (ended.reason, dropout.kind) == ("complete", "overrun")
    assert (dropout.at_frame, dropout.frames) == (lost[0], len(lost))
    assert len(lost) == lost[-1] + 1 - lost[0], "one stretch, silent"
    assert not codes[lost].any()


def test_the_desk_says_that_the_disk_is_slow_while_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(block, "PATIENCE", 0.05)
    disk = SlowDisk(monkeypatch)
    events: queue.SimpleQueue[Event] = queue.SimpleQueue()
    desk = Desk(send=events.put, status=StatusWriter(tmp_path / "status"))
    thread = threading.Thread(target=desk.run)
    thread.start()

    def until(kind: type[Event]) -> Event:
        while not isinstance(event := events.get(timeout=20), kind):
            assert not isinstance(event, Behind), "said once"
        return event

    wiring = Wiring(
        name="room",
        device=SimulatedDevice(inputs=2, outputs=2),
        sample_rate=44_100,
        send_output=1,
        returns=(Return("close", 2),),
        reference="close",
    )
    try:
        desk.inbox.put(Open(wiring=wiring))
        until(Opened)
        capture = Capture(path=str(tmp_path / "a.wav"), inputs=(1,))
        disk.blocked.clear()
        desk.inbox.put(Roll(roll_id=5, captures=(capture,), length_frames=60 * 44_100))
        desk.inbox.put(Roll(roll_id=6, length_frames=44_100))
        until(Started)
        disk.open.clear()
        behind = until(Behind)
        assert isinstance(behind, Behind)
        assert behind.roll_id == 5
        assert events.empty()
        disk.open.set()
        ended = until(Ended)
        assert isinstance(ended, Ended)
        assert (ended.reason, ended.dropouts) == ("slow disk", ())
        refused = events.get(timeout=20)
        assert getattr(refused, "roll_id", None) == 6, "what waits does not start by itself"
    finally:
        disk.open.set()
        desk.inbox.put(Leave())
        thread.join()
