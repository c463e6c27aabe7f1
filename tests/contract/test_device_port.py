"""What every device behind the port owes the engine: the same suite for each of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest
from conformance import (
    JACK_PATHS,
    Heard,
    environment,
    jack_wiring,
    lag,
    run,
    run_clean,
    simulated_wiring,
)
from device_probe import Ask
from jackroom.rig import JackRoom, jack_room
from msgspec.structs import replace
from needs import needs_jack

from audio.device.port import INPUT_OVERFLOW, OUTPUT_UNDERFLOW
from audio.vocab.wiring import Return, Wiring

RATE = 48000
BLOCKS = 80
FRAMES = 20480


@dataclass(frozen=True)
class Case:
    """A device to judge."""

    kind: str
    wiring: Wiring
    env: dict[str, str]
    channels: int
    """Inputs it has, and outputs."""

    def ask(self, **wanted: object) -> Ask:
        return Ask(wiring=self.wiring, **wanted)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def room() -> Iterator[JackRoom]:
    with jack_room(rate=RATE, period=512, paths=JACK_PATHS) as running:
        yield running


@pytest.fixture(
    scope="module",
    params=["simulated, free", "simulated, clock", pytest.param("jack", marks=needs_jack())],
)
def case(request: pytest.FixtureRequest) -> Case:
    kind = request.param
    if kind == "jack":
        env = environment(request.getfixturevalue("room"))
        return Case(kind, jack_wiring(RATE), env, 4)
    return Case(kind, simulated_wiring(RATE, kind.split()[-1]), environment(None), 8)


@pytest.fixture(scope="module")
def heard(case: Case) -> Heard:
    return run_clean(case.ask(blocks=BLOCKS), env=case.env, frames=FRAMES)


# ---------------------------------------------------------------------- what a callback gets


def test_every_call_has_the_promised_shape_and_type(heard: Heard) -> None:
    told = heard.told
    expected = (
        told.block_frames,
        told.sample_format,
        told.sample_format,
        (told.block_frames, told.inputs),
        (told.block_frames, told.outputs),
    )
    assert told.calls == (expected,)


def test_the_device_runs_at_the_wirings_rate_with_enough_channels(heard: Heard) -> None:
    told = heard.told
    assert told.rate == RATE
    assert told.inputs >= 4
    assert told.outputs >= 3


def test_only_a_device_without_a_clock_asks_the_gate(case: Case, heard: Heard) -> None:
    assert heard.told.paced == (case.kind != "simulated, free")
    assert (heard.told.gates == 0) == heard.told.paced


def test_the_time_of_each_call_advances_as_the_frames_do(heard: Heard) -> None:
    when = np.array(heard.told.when_s)
    assert np.all(np.diff(when) > 0.0)
    block_s = heard.told.block_frames / heard.told.rate
    # A late wake-up moves one call; the line through all of them still has the slope of the clock.
    slope = np.polyfit(np.arange(len(when)), when, 1)[0]
    assert slope == pytest.approx(block_s, rel=0.05)


def test_flags_are_the_two_the_port_knows(heard: Heard) -> None:
    assert all(0 <= f <= INPUT_OVERFLOW + OUTPUT_UNDERFLOW for f in heard.told.flags)


# ---------------------------------------------------------------------- channels and frames


@pytest.mark.parametrize(("output", "input_"), [(3, 2), (1, 4)])
def test_a_channel_is_the_one_with_its_number(heard: Heard, output: int, input_: int) -> None:
    half = len(heard.sent) // 2
    heights = [
        abs(lag(heard.sent[:half, column], heard.heard[:half, input_ - 1])[1])
        for column in range(heard.sent.shape[1])
    ]
    assert int(np.argmax(heights)) == output - 1
    assert heights[output - 1] > 0.5
    assert sorted(heights)[-2] < 0.1


@pytest.mark.parametrize("input_", [1, 3])
def test_an_input_with_nothing_on_it_is_quiet_and_an_unused_output_sends_nothing(
    heard: Heard, input_: int
) -> None:
    assert float(np.max(np.abs(heard.heard[:, input_ - 1]))) < 1e-4


@pytest.mark.parametrize(("output", "input_"), [(3, 2), (1, 4)])
def test_the_offset_of_input_to_output_never_changes(
    heard: Heard, output: int, input_: int
) -> None:
    frames, window = len(heard.sent), 4096
    lags = {
        lag(
            heard.sent[start : start + window, output - 1],
            heard.heard[start : start + window, input_ - 1],
        )[0]
        for start in range(0, frames - window, window // 2)
    }
    assert len(lags) == 1


@needs_jack()
def test_a_plain_wire_over_jack_returns_every_bit(room: JackRoom) -> None:
    ask = Ask(wiring=jack_wiring(RATE), blocks=BLOCKS)
    clean = run_clean(ask, env=room.env, frames=FRAMES)
    late = int(room.round_trip(2))
    assert np.array_equal(clean.heard[late:, 1], clean.sent[:-late, 2])


# ---------------------------------------------------------------------- life and death


def test_a_running_device_is_alive_and_close_ends_the_calls(heard: Heard) -> None:
    told = heard.told
    assert told.alive_running
    assert told.close_s < 2.0
    assert told.late_calls == 0


def test_what_a_block_raises_ends_the_stream_without_hanging(case: Case) -> None:
    told = run(case.ask(blocks=20, raise_at=5), env=case.env).told
    assert told.alive_after_raise is False
    assert len(told.when_s) == 5
    assert told.close_s < 2.0
    assert told.late_calls == 0


@pytest.mark.slow
def test_a_device_can_be_opened_again_after_it_was_closed(case: Case) -> None:
    for _ in range(2):
        assert run(case.ask(blocks=2), env=case.env).told.when_s


# ---------------------------------------------------------------------- refusals


def test_channels_that_are_not_there_are_refused_with_both_numbers(case: Case) -> None:
    changes = {
        "input 40": {"returns": (Return("close", 40),)},
        "output 41": {"send_output": 41},
    }
    for named, change in changes.items():
        told = run(Ask(wiring=replace(case.wiring, **change)), env=case.env).told
        assert told.error == "UseError"
        assert named in told.sentence
        assert re.search(rf"\b{case.channels}\b", told.sentence), told.sentence
