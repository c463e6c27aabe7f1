"""Listening over a real audio server: a wire from a listen output records what people hear of a flip.

Two sounds are ramps that hold their own frame as a 24-bit code, one upward and one downward; the room's
wires return both outputs bit for bit, so what was heard tells sound and frame of every sample.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path as FilePath
from typing import TypeVar

import numpy as np
import pytest
import soundfile
from jackroom.rig import JackRoom
from jackroom.spec import Path
from needs import needs_jack

from audio.engine.client import Engine
from audio.vocab.messages import (
    Capture,
    Ended,
    Event,
    Gain,
    Open,
    Opened,
    Roll,
    Source,
    Started,
    Stop,
)
from audio.vocab.wiring import PortAudioDevice, Return, Wiring

pytestmark = [needs_jack(), pytest.mark.slow]

RATE = 48_000
PERIOD = 512
FADE = RATE // 100
LISTEN, SEND = 1, 3
HEARD, CLOSE = 4, 2
CODES = 1 << 23
FRAMES = 10 * RATE
FLIP_AT, STOP_AT = RATE // 2, RATE
LIMIT_S = 20.0
TRIES = 3
RAMPS = {"up": 1, "down": -1}

_E = TypeVar("_E", bound=Event)


def ramp(folder: FilePath, sign: int) -> FilePath:
    path = folder / f"{sign}.wav"
    codes = sign * np.arange(1, FRAMES + 1, dtype=np.int32)
    soundfile.write(path, codes << 8, RATE, subtype="PCM_24")
    return path


@contextmanager
def opened(room: JackRoom, monkeypatch: pytest.MonkeyPatch) -> Iterator[Engine]:
    """Yield an engine whose stream is open on the room."""
    for name, value in room.env.items():
        monkeypatch.setenv(name, value)
    wiring = Wiring(
        name="room",
        device=PortAudioDevice(host="JACK Audio Connection Kit", name=room.spec.name),
        sample_rate=RATE,
        send_output=SEND,
        returns=(Return("close", CLOSE), Return("heard", HEARD)),
        reference="close",
        listen_outputs=(LISTEN, 2),
    )
    with Engine() as engine:
        engine.send(Open(wiring=wiring))
        told(engine, Opened)
        yield engine


def told(engine: Engine, kind: type[_E]) -> _E:
    event = engine.event(LIMIT_S)
    assert isinstance(event, kind), event
    return event


def until(engine: Engine, frame: int) -> int:
    """Wait until the status block has counted so many frames of the roll; return how many it has."""
    end = time.monotonic() + LIMIT_S
    while time.monotonic() < end:
        status = engine.status()
        if status is not None and status.roll_id == 1 and status.roll_frame >= frame:
            return status.roll_frame
        time.sleep(0.001)
    pytest.fail("the roll did not go on")


class Flipped:
    """A roll in which one flip was asked for, and what came back of it."""

    def __init__(self, engine: Engine, folder: FilePath) -> None:
        take = folder / "heard.wav"
        take.unlink(missing_ok=True)
        sources = tuple(
            Source(path=str(ramp(folder, sign)), outputs=((LISTEN - 1, float(name == "up")),))
            for name, sign in RAMPS.items()
        )
        capture = Capture(
            path=str(take), inputs=(HEARD - 1, CLOSE - 1), outputs=(LISTEN - 1, SEND - 1)
        )
        engine.send(Roll(roll_id=1, sources=sources, captures=(capture,), length_frames=FRAMES))
        told(engine, Started)
        self.asked_at = until(engine, FLIP_AT)
        gains = tuple((row, LISTEN - 1, float(name == "down")) for row, name in enumerate(RAMPS))
        engine.send(Gain(roll_id=1, gains=gains))
        until(engine, STOP_AT)
        engine.send(Stop())
        self.ended = told(engine, Ended)
        codes = soundfile.read(take, dtype="int32")[0] >> 8
        self.back, self.close, self.sent, self.send = codes.T


def test_a_flip_lands_on_the_same_frame_of_the_other_sound_within_two_blocks(
    tmp_path: FilePath,
    jack_room: Callable[..., JackRoom],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wires = (Path(output=SEND, input=CLOSE), Path(output=LISTEN, input=HEARD))
    room = jack_room(rate=RATE, period=PERIOD, paths=wires)
    with opened(room, monkeypatch) as engine:
        one = undisturbed(engine, tmp_path)
    assert one.ended.reason == "stopped"
    frames = np.arange(1, len(one.sent) + 1)
    flip = int(np.argmax(one.sent != frames))
    landed = flip + FADE
    stopped = len(frames) - FADE
    np.testing.assert_array_equal(one.sent[landed:stopped], -frames[landed:stopped])
    assert landed < stopped - RATE // 4
    # What the status block tells was counted up to 25 ms before it is read.
    told_late = -(-RATE // 40 // PERIOD) * PERIOD
    assert one.asked_at <= flip <= one.asked_at + told_late + 2 * PERIOD

    late = round(room.round_trip(HEARD))
    np.testing.assert_array_equal(one.back[late:], one.sent[:-late], "heard as it was sent")
    assert not one.send.any()
    assert not one.close.any()


def undisturbed(engine: Engine, folder: FilePath) -> Flipped:
    """Flip in a roll in which the server lost nothing; that is the machine's affair, not the flip's."""
    for _ in range(TRIES):
        one = Flipped(engine, folder)
        if not one.ended.dropouts:
            return one
    pytest.fail(f"blocks were lost in each of {TRIES} rolls: {one.ended.dropouts}")
