"""A roll for people's ears: what is heard, on which frame, while it is flipped, moved and looped.

Every sound is a ramp that holds its own frame as a 24-bit code, one upward and one downward:
so what is sent tells for every single sample which sound it is and which frame of it.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from accidents import wait_for
from hand import Hand, turn_while

from audio.engine.outlets import Outlets
from audio.engine.stream import Stream
from audio.files.touch import TouchedFile
from audio.vocab.messages import Ended, Gain, Roll, Source, Span

RATE = 48_000
FADE = RATE // 100
BLOCK = 512
CODES = 1 << 23
FRAMES = 600_000
EAR = 1
RAMPS = {"up": 1, "down": -1}


class Ears:
    """A stream turned by hand, and what it sent to people."""

    def __init__(self) -> None:
        self.device = Hand(rate=RATE, block_frames=BLOCK, channels=4, sample_format="float32")
        self.ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
        self.stream = Stream(
            self.device,
            outlets=Outlets(amp=frozenset({2}), ears=frozenset({EAR})),
            publish=lambda _: None,
            ended=self.ended.put,
            broken=pytest.fail,
        )
        self.stream.start()

    def turn(self, blocks: int) -> None:
        """Turn the device as a clock would, but never before what it needs is there."""
        assert self.device.gate is not None
        for _ in range(blocks):
            assert self.device.gate(BLOCK)
            self.device.turn(BLOCK)

    def begin(self, folder: Path, span: Span) -> None:
        sources = tuple(
            Source(path=str(ramp(folder, name, sign)), outputs=((EAR, float(name == "up")),))
            for name, sign in RAMPS.items()
        )
        self.start = self.stream.roll(
            Roll(
                roll_id=1,
                sources=sources,
                length_frames=1 << 40,
                loop=span,
                from_frame=span.start,
            )
        )

    def flip(self, to: str) -> None:
        gains = tuple((row, EAR, float(name == to)) for row, name in enumerate(RAMPS))
        self.stream.gain(Gain(roll_id=1, gains=gains))

    def loop(self, span: Span) -> None:
        """Move the loop, and let the threads do their part of it: this device knows no clock."""
        self.stream.loop(span)
        recording = self.stream.recording
        assert recording is not None
        wait_for(lambda: recording.program.timeline.loop == span, "the loop was not moved")

    def heard(self) -> np.ndarray:
        """Return the codes that people heard since the roll began."""
        return np.rint(self.device.levels()[self.start :, EAR] * CODES).astype(int)


def ramp(folder: Path, name: str, sign: int) -> Path:
    path = folder / f"{name}.wav"
    if not path.exists():
        codes = sign * np.arange(1, FRAMES + 1, dtype=np.int32)
        soundfile.write(path, codes << 8, RATE, subtype="PCM_24")
    return path


@pytest.fixture
def ears() -> Iterator[Ears]:
    one = Ears()
    yield one
    turn_while(one.device, one.stream.close, frames=BLOCK)


def test_a_flip_begins_with_the_next_block_and_lands_on_the_same_frame(
    ears: Ears, tmp_path: Path
) -> None:
    ears.begin(tmp_path, Span(start=10_000, end=500_000))
    ears.turn(20)
    flipped_at = ears.device.frame - ears.start
    ears.flip("down")
    ears.turn(4)
    heard = ears.heard()
    frames = 10_001 + np.arange(len(heard))
    np.testing.assert_array_equal(heard[:flipped_at], frames[:flipped_at])
    landed = flipped_at + FADE
    np.testing.assert_array_equal(heard[landed:], -frames[landed:])
    at = (np.arange(FADE) + 0.5) / FADE * np.pi / 2
    fading = frames[flipped_at:landed] * (np.cos(at) - np.sin(at))  # of equal power, +1 and -1
    assert np.max(np.abs(heard[flipped_at:landed] - fading)) <= 1


def test_a_key_that_is_hit_in_the_middle_of_a_flip_goes_on_from_where_that_stands(
    ears: Ears, tmp_path: Path
) -> None:
    ears.begin(tmp_path, Span(start=200_000, end=500_000))
    ears.turn(8)
    ears.flip("down")
    ears.device.turn(100)  # shorter than the fade
    ears.flip("up")
    ears.turn(8)
    heard = ears.heard()
    largest = np.max(np.abs(np.diff(heard))) / 200_000
    assert largest < 2 * np.pi / 2 / FADE, "no step anywhere"
    np.testing.assert_array_equal(heard[-BLOCK:], 200_001 + np.arange(len(heard))[-BLOCK:])


def test_a_loop_that_is_moved_while_it_plays_goes_on_inside_the_new_stretch(
    ears: Ears, tmp_path: Path
) -> None:
    ears.begin(tmp_path, Span(start=0, end=40_000))
    ears.turn(60)
    ears.loop(Span(start=300_000, end=330_000))
    ears.turn(400)
    heard = ears.heard()
    moved = int(np.argmax(heard > 300_000))
    assert moved - 60 * BLOCK < RATE // 10, "as soon as the ring allows"
    assert heard[: moved - FADE].max() <= 40_001
    there = heard[moved + FADE :]
    steady = there[1:][np.diff(there) == 1]  # all but the fades where it goes round
    assert 300_000 < steady.min() < 301_000
    assert steady.max() == 330_000
    assert len(there) - len(steady) > 3 * FADE, "and goes round there"


def test_a_loop_that_is_made_longer_does_not_go_back_at_its_old_end(
    ears: Ears, tmp_path: Path
) -> None:
    ears.begin(tmp_path, Span(start=0, end=48_000))
    ears.turn(60)  # the old end lies half a second ahead, and is rendered already
    ears.loop(Span(start=0, end=200_000))
    ears.turn(100)
    heard = ears.heard()
    np.testing.assert_array_equal(heard, 1 + np.arange(len(heard)))


def test_nothing_goes_elsewhere_before_its_files_are_read_there(
    ears: Ears, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spun_up = threading.Event()
    touch = TouchedFile.touch

    def slowly(file: TouchedFile, first: int, frames: int, *, into: memoryview) -> None:
        if first >= 400_000:
            spun_up.wait(20)
        touch(file, first, frames, into=into)

    monkeypatch.setattr(TouchedFile, "touch", slowly)
    ears.begin(tmp_path, Span(start=0, end=200_000))
    ears.turn(20)
    ears.stream.loop(Span(start=400_000, end=500_000))
    ears.turn(40)
    waited = ears.heard()
    np.testing.assert_array_equal(waited, 1 + np.arange(len(waited)), "what plays goes on")
    spun_up.set()
    for _ in range(400):
        ears.turn(1)
        if ears.heard()[-1] > 400_000:
            return
    pytest.fail("the jump was forgotten")


def test_nothing_of_it_is_ever_sent(ears: Ears, tmp_path: Path) -> None:
    ears.begin(tmp_path, Span(start=10_000, end=60_000))
    for to in ("down", "up", "down"):
        ears.turn(30)
        ears.flip(to)
    ears.turn(30)
    assert not ears.device.levels()[:, [0, 2, 3]].any()
