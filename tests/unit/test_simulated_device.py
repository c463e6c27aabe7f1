"""The simulated room behind the device port: codes, calls, clock and what goes wrong with them."""

from __future__ import annotations

import threading
import time
from typing import Any

import numpy as np
import pytest
from simulated_wirings import SILENT, wiring

from audio.device.port import INPUT_OVERFLOW, OUTPUT_UNDERFLOW, Block, Device
from audio.device.simulated.device import SimulatedRoom
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.wiring import DiBox

RATE = 48_000
BLOCK = 256


class Player:
    """A block function that plays codes on the send and keeps what came in, for so many calls."""

    def __init__(self, codes: np.ndarray[Any, np.dtype[np.int32]], *, calls: int) -> None:
        self._codes = codes
        self._calls = calls
        self.heard: list[Any] = []
        self.when: list[float] = []
        self.flags: list[int] = []
        self.done = threading.Event()

    def block(self, indata: Block, outdata: Block, frames: int, when_s: float, flags: int) -> None:
        at = len(self.heard) * frames
        outdata[:] = 0
        piece = self._codes[at : at + frames]
        outdata[: piece.size, 2] = piece
        self.heard.append(indata.copy())
        self.when.append(when_s)
        self.flags.append(flags)
        if len(self.heard) == self._calls:
            self.done.set()

    def gate(self, frames: int) -> bool:
        assert frames == BLOCK
        return len(self.heard) < self._calls

    @property
    def recorded(self) -> Any:
        return np.concatenate(self.heard)


def opened(*faults: dict[str, Any], **rest: Any) -> SimulatedRoom:
    device = {"pace": "free", "converter_frames": 131.0, **SILENT, **rest}
    return SimulatedRoom(wiring(rate=RATE, block=BLOCK, faults=faults, **device))


def run(one: SimulatedRoom, player: Player) -> None:
    """Let a free room run until its calls end."""
    one.start(player.block, player.gate)
    assert one._thread is not None
    one._thread.join(20.0)
    assert not one.alive()
    one.close()
    if one.error is not None:
        raise one.error


def codes(frames: int) -> np.ndarray[Any, np.dtype[np.int32]]:
    whole = np.random.default_rng(3).integers(-(2**23), 2**23, frames, dtype=np.int32)
    return whole << 8


def test_24_bit_codes_come_back_as_they_were_sent() -> None:
    sent, one = codes(20 * BLOCK), opened()
    player = Player(sent, calls=24)
    run(one, player)
    delay = round(one.truth(2).delay_frames)
    assert delay == BLOCK + 131
    heard = player.recorded[:, 1]
    assert np.array_equal(heard[delay : delay + sent.size], sent)
    assert not heard[:delay].any()


def test_what_comes_in_is_always_a_24_bit_code() -> None:
    player = Player(codes(4 * BLOCK), calls=8)
    run(opened(noise_dbfs=-60.0), player)
    assert not (player.recorded & 0xFF).any()
    assert player.recorded[:, 1].any()


def test_it_says_what_it_is() -> None:
    one: Device = opened()
    assert (one.rate, one.block_frames, one.inputs, one.outputs) == (RATE, BLOCK, 8, 8)
    assert (one.sample_format, one.paced, one.alive()) == ("int32", False, False)
    assert opened(pace="clock").paced
    assert SimulatedRoom(wiring(rate=RATE)).block_frames == 512


def test_a_free_room_counts_frames_for_a_clock() -> None:
    player = Player(codes(1), calls=10)
    run(opened(), player)
    assert np.diff(player.when) == pytest.approx(np.full(9, BLOCK / RATE), abs=1e-12)
    assert player.flags == [0] * 10


def test_a_free_room_waits_at_the_gate_and_ends_when_it_is_shut() -> None:
    player, asked = Player(codes(1), calls=99), threading.Event()
    opening = threading.Semaphore(0)

    def gate(_: int) -> bool:
        asked.set()
        return opening.acquire(timeout=10.0) and len(player.heard) < 2

    one = opened()
    one.start(player.block, gate)
    assert asked.wait(10.0)
    assert player.heard == []
    assert one.alive()
    opening.release(3)
    assert one._thread is not None
    one._thread.join(10.0)
    assert len(player.heard) == 2
    assert not one.alive()


def test_a_paced_room_calls_when_a_blocks_time_has_passed() -> None:
    one, player = opened(pace="clock"), Player(codes(1), calls=20)
    moments: list[float] = []

    def block(*given: Any) -> None:
        moments.append(time.monotonic())
        player.block(*given)

    began = time.monotonic()
    one.start(block, lambda _: False)  # a paced device asks no gate
    assert player.done.wait(10.0)
    one.close()
    assert all(at >= when for at, when in zip(moments, player.when, strict=False))
    assert moments[19] - began >= 20 * BLOCK / RATE
    assert np.diff(player.when) == pytest.approx(BLOCK / RATE, abs=1e-9)


def test_a_paced_room_that_fell_behind_catches_up_without_losing_a_block() -> None:
    one, player = opened(pace="clock"), Player(codes(30 * BLOCK), calls=30)
    held = threading.Event()

    def block(*given: Any) -> None:
        if len(player.heard) == 3:
            held.wait(0.1)  # nobody sets it: nineteen blocks late
        player.block(*given)

    one.start(block, lambda _: True)
    assert player.done.wait(10.0)
    one.close()
    assert np.diff(player.when[:30]) == pytest.approx(BLOCK / RATE, abs=1e-9)
    sent = codes(30 * BLOCK)
    assert np.array_equal(player.recorded[387 : 30 * BLOCK, 1], sent[: 30 * BLOCK - 387])


def test_what_the_block_function_raises_ends_the_calls_and_is_kept() -> None:
    def block(*_: Any) -> None:
        raise ValueError("no more")

    one = opened()
    one.start(block, lambda _: True)
    assert one._thread is not None
    one._thread.join(10.0)
    assert not one.alive()
    assert isinstance(one.error, ValueError)


def test_starting_twice_and_starting_after_closing_are_errors() -> None:
    one = opened()
    one.start(lambda *_: None, lambda _: False)
    with pytest.raises(DeviceError, match="open another one"):
        one.start(lambda *_: None, lambda _: False)
    one.close()
    closed = opened()
    closed.close()
    with pytest.raises(DeviceError, match="open another one"):
        closed.start(lambda *_: None, lambda _: False)


def test_closing_ends_the_calls_and_may_be_done_twice_and_from_the_block_function() -> None:
    one = opened(pace="clock")
    called = threading.Event()

    def block(*_: Any) -> None:
        one.close()
        called.set()

    one.start(block, lambda _: True)
    assert called.wait(10.0)
    one.close()
    one.close()
    assert not one.alive()
    assert one.error is None


def test_plugging_reaches_the_room() -> None:
    one = opened(chains={"down": ({"kind": "tuner"},)})
    one.plug("down")
    player = Player(codes(8 * BLOCK), calls=12)
    run(one, player)
    assert one.truth(2).connected is False
    assert not player.recorded[4 * BLOCK :, 1].any()


def test_patching_reaches_the_room() -> None:
    one = opened(di_box=DiBox(input=4))
    one.patch("box to DI input")
    player = Player(codes(8 * BLOCK), calls=12)
    run(one, player)
    assert one.truth(4).connected is True
    assert player.recorded[4 * BLOCK :, 3].any()
    assert not player.recorded[4 * BLOCK :, 1].any()


LOST = {"kind": "lost frames", "at_s": 10 * BLOCK / RATE, "frames": 4800}


def test_lost_frames_step_the_clock_flag_once_and_leave_the_offset_as_it_was() -> None:
    sent, one = codes(40 * BLOCK), opened(LOST)
    player = Player(sent, calls=42)
    run(one, player)
    steps = np.diff(player.when) - BLOCK / RATE
    assert steps.max() == pytest.approx(4800 / RATE)
    assert np.count_nonzero(steps > 1e-9) == 1
    flagged = np.flatnonzero(player.flags)
    assert len(flagged) == 1
    assert 0 <= flagged[0] - (int(np.argmax(steps)) + 1) <= 2
    assert player.flags[flagged[0]] == INPUT_OVERFLOW | OUTPUT_UNDERFLOW
    delay, heard = round(one.truth(2).delay_frames), player.recorded[:, 1]
    lost = int(np.argmax(steps) + 1) * BLOCK
    assert np.array_equal(heard[delay:lost], sent[: lost - delay])
    after = lost + delay
    assert np.array_equal(heard[after : 40 * BLOCK], sent[lost : 40 * BLOCK - delay])
    assert not np.array_equal(heard[lost:after], sent[lost - delay : lost])


def test_lost_frames_can_go_without_a_flag() -> None:
    player = Player(codes(1), calls=20)
    run(opened({**LOST, "flag": False}), player)
    assert not any(player.flags)
    assert np.diff(player.when).max() > 0.1


def test_a_slip_makes_all_that_follows_late_without_a_word_from_the_clock() -> None:
    sent = codes(40 * BLOCK)
    one = opened({"kind": "slip", "at_s": 10 * BLOCK / RATE, "frames": 100})
    player = Player(sent, calls=42)
    run(one, player)
    heard, slipped = player.recorded[:, 1], 10 * BLOCK
    delay = BLOCK + 131
    assert np.array_equal(heard[delay : slipped + delay], sent[:slipped])
    assert np.array_equal(heard[slipped + delay + 100 : 40 * BLOCK], sent[slipped : -delay - 100])
    assert one.truth(2).delay_frames == delay + 100
    assert np.diff(player.when) == pytest.approx(BLOCK / RATE, abs=1e-9)
    assert not any(player.flags)


@pytest.mark.parametrize("ppm", [500.0, -81_250.0])
def test_a_wrong_clock_makes_more_or_fewer_frames_a_second(ppm: float) -> None:
    player = Player(codes(1), calls=50)
    run(opened({"kind": "wrong clock", "ppm": ppm}), player)
    counted = 49 * BLOCK / (player.when[-1] - player.when[0])
    assert (counted / RATE - 1.0) * 1e6 == pytest.approx(ppm, abs=0.01)


def test_a_device_that_disappears_stops_calling_without_an_error() -> None:
    player = Player(codes(1), calls=1000)
    one = opened({"kind": "disappear", "at_s": 20 * BLOCK / RATE})
    run(one, player)
    assert len(player.heard) == 20
    assert one.error is None


def test_a_room_that_cannot_be_built_is_refused_before_it_is_started() -> None:
    with pytest.raises(UseError, match="no kind 'fire'"):
        opened({"kind": "fire"})
