"""Nobody gets hurt: what reaches the send, whatever is asked for, and how every sound begins and ends."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random

import numpy as np
import pytest
import soundfile
import wild
from hand import Hand, turn_while
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audio.device.port import SampleFormat
from audio.engine.mix import Change
from audio.engine.outlets import Outlets
from audio.engine.program import Program
from audio.engine.stream import Stream
from audio.vocab.errors import UseError
from audio.vocab.messages import DeadEnd, Ended, Gain, QuietEnd, Roll, Source, Span
from audio.vocab.wiring import Loop, Return, SimulatedDevice, Wiring

RATE = 16_000
FADE = RATE // 100
BLOCK = 256
SEND, EAR, UNUSED = 2, 0, 3
OUTLETS = Outlets(amp=frozenset({SEND}), ears=frozenset({EAR, 1}))
FORMATS: tuple[SampleFormat, ...] = ("float32", "int32")
CODE = 2.0**-23


class Bench:
    """A stream on a device turned by hand."""

    def __init__(self, sample_format: SampleFormat = "int32", *, channels: int = 4) -> None:
        self.device = Hand(
            rate=RATE, block_frames=BLOCK, channels=channels, sample_format=sample_format
        )
        self.ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
        self.stream = Stream(
            self.device,
            outlets=OUTLETS,
            publish=lambda _: None,
            ended=self.ended.put,
            broken=pytest.fail,
        )
        self.stream.start()

    def start(self, **what: object) -> int:
        return self.stream.roll(Roll(roll_id=1, **what))  # type: ignore[arg-type]

    def turn(self, frames: int = BLOCK, *, fed: bool = True) -> None:
        """Turn the device once the feed is ready, as one that does not run by a clock does."""
        program = self.stream.callback.program
        if fed and program is not None and not program.is_over(self.device.frame):
            assert self.device.gate is not None
            assert self.device.gate(frames)
        self.device.turn(frames)

    def turn_until(self, frame: int, *, fed: bool = True) -> None:
        """Turn until the roll under way is at some frame."""
        start = self.program.start_frame
        while self.device.frame - start < frame:
            self.turn(fed=fed)

    def to_end(self) -> Ended:
        program = self.program
        while not program.is_over(self.device.frame):
            self.turn()
        return self.ended.get(timeout=20)

    @property
    def program(self) -> Program:
        recording = self.stream.recording
        assert recording is not None
        return recording.program

    def sent(self, output: int = SEND) -> np.ndarray:
        return self.device.levels()[:, output]


@contextmanager
def running(sample_format: SampleFormat = "int32") -> Iterator[Bench]:
    bench = Bench(sample_format)
    try:
        yield bench
    finally:
        turn_while(bench.device, bench.stream.close, frames=BLOCK)


def write(path: Path, samples: np.ndarray, subtype: str = "PCM_24") -> str:
    soundfile.write(path, samples, RATE, subtype=subtype)
    return str(path)


def steady(path: Path, *, seconds: float = 4.0, level: float = 0.5) -> str:
    """Write a file that is one level throughout: whatever cuts it makes a step of that size."""
    return write(path, np.full(round(seconds * RATE), level))


def di(path: str, **what: object) -> Source:
    return Source(path=path, outputs=((SEND, 1.0),), reaches_send=True, **what)  # type: ignore[arg-type]


def steps(sent: np.ndarray) -> np.ndarray:
    return np.abs(np.diff(sent, prepend=0.0, append=0.0))


STEEPEST = 0.5 * (np.pi / 2) / FADE * 1.01
"""Largest step of a fade of a level of 0.5."""


# ------------------------------------------------------------------ anything, at random


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return wild.write_sources(tmp_path_factory.mktemp("sources"))


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 2**32))
def test_whatever_rolls_and_however_it_is_steered_nobody_gets_hurt(
    files: dict[str, Path], seed: int
) -> None:
    # A seed, not hypothesis's own draws: how many there are depends on threads.
    assert wild.Evening(Random(seed), files).run().wrong == []  # noqa: S311 -- no secret


# ------------------------------------------------------------------ who may reach the amp


def cue(path: str, *outputs: tuple[int, float]) -> Source:
    return Source(path=path, outputs=outputs)


def test_a_cue_is_refused_on_the_way_to_the_amp_before_anything_sounds(tmp_path: Path) -> None:
    path = steady(tmp_path / "cue.wav")
    with running() as bench:
        with pytest.raises(
            UseError, match="source 1 may not reach output 3, which leads to the amp"
        ):
            bench.start(sources=(cue(path, (EAR, 1.0), (SEND, 0.001)),), length_frames=RATE)
        bench.turn()
        assert bench.stream.recording is None
        bench.start(sources=(cue(path, (EAR, 1.0), (SEND, 0.0)),), length_frames=RATE)
        bench.turn_until(RATE // 4)
        with pytest.raises(UseError, match="leads to the amp"):
            bench.stream.gain(Gain(roll_id=1, gains=((0, SEND, 0.01),)))
        bench.to_end()
        assert bench.sent(EAR).any()
        assert not bench.sent(SEND).any()


def test_an_output_the_wiring_does_not_name_is_refused(tmp_path: Path) -> None:
    path = steady(tmp_path / "di.wav")
    source = Source(path=path, outputs=((UNUSED, 1.0),), reaches_send=True)
    with running() as bench, pytest.raises(UseError, match="output 4 is not in the wiring"):
        bench.start(sources=(source,), length_frames=RATE)


@pytest.mark.parametrize("value", [1.5, -0.5, float("nan"), float("inf")])
def test_a_gain_beyond_one_is_refused(tmp_path: Path, value: float) -> None:
    path = steady(tmp_path / "di.wav")
    with running() as bench:
        with pytest.raises(UseError, match="gains go from 0 to 1"):
            bench.start(sources=(cue(path, (EAR, value)),), length_frames=RATE)
        bench.start(sources=(di(path),), length_frames=RATE)
        with pytest.raises(UseError, match="gains go from 0 to 1"):
            bench.stream.gain(Gain(roll_id=1, gains=((0, SEND, value),)))


def test_not_even_a_mistake_behind_the_check_lets_a_cue_to_the_amp(tmp_path: Path) -> None:
    path = steady(tmp_path / "cue.wav")
    with running("float32") as bench:
        bench.start(sources=(cue(path, (EAR, 1.0)),), length_frames=RATE)
        program = bench.program
        everything = np.full((1, 4), np.nan, dtype=np.float32)
        everything[0, :2] = 1.0
        program.change(Change(everything, at_frame=0, frames=FADE, shape="linear"))
        bench.to_end()
        assert bench.sent(EAR).max() == 0.5
        assert not bench.device.levels()[:, [SEND, UNUSED]].any()


def test_the_wiring_says_what_leads_to_the_amp_and_what_to_ears() -> None:
    wiring = Wiring(
        name="room",
        device=SimulatedDevice(),
        sample_rate=48_000,
        send_output=3,
        returns=(Return("close", 2),),
        reference="close",
        loop=Loop(output=8, input=8),
        listen_outputs=(1, 2, 8),
    )
    outlets = Outlets.of(wiring)
    assert (outlets.amp, outlets.ears) == (frozenset({2, 7}), frozenset({0, 1, 7}))
    table = outlets.allowed((Source(path="cue"), Source(path="di", reaches_send=True)), outputs=8)
    assert np.flatnonzero(table[0]).tolist() == [0, 1], "an output that is both is the amp's"
    assert np.flatnonzero(table[1]).tolist() == [0, 1, 2, 7]


# ------------------------------------------------------------------ what is fit to be sent


@pytest.mark.parametrize("sample_format", FORMATS)
@given(
    limit_db=st.floats(-60.0, -1.0),
    over_db=st.floats(-20.0, 1.0),
    gain_db=st.floats(-6.0, 6.0),
    at_s=st.floats(1.5, 2.0),
)
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nothing_over_its_limit_is_ever_sent(
    *,
    tmp_path: Path,
    sample_format: SampleFormat,
    limit_db: float,
    over_db: float,
    gain_db: float,
    at_s: float,
) -> None:
    limit, gain = 10 ** (limit_db / 20), 10 ** (gain_db / 20)
    samples = np.zeros(2 * RATE + 1)
    samples[round(at_s * RATE)] = min(limit * 10 ** (over_db / 20), gain) / gain
    peak = samples.max() * gain
    path = write(tmp_path / "click.wav", samples, "DOUBLE")
    source = di(path, gain_db=gain_db, limit_dbfs=limit_db)
    with running(sample_format) as bench:
        bench.start(sources=(source,), length_frames=len(samples))
        ended = bench.to_end()
        loudest = np.abs(bench.sent()).max()
    if over_db <= 0.0:
        assert ended.reason == "complete"
        assert abs(loudest - peak) <= CODE
    elif peak > limit + 2 * CODE:
        assert ended.reason == "unfit"
        assert "over its limit" in ended.note
        assert loudest == 0.0
    assert loudest <= limit + 0.51 * CODE


def test_clicks_that_fall_together_keep_their_limit_together(tmp_path: Path) -> None:
    path = write(tmp_path / "click.wav", np.r_[np.zeros(3 * RATE), 0.2, np.zeros(RATE)])
    one, other = di(path, limit_dbfs=-12.0), di(path, at_frame=1, limit_dbfs=-12.0)
    with running() as bench:
        bench.start(sources=(one, other), length_frames=4 * RATE)
        assert bench.to_end().reason == "complete"
        bench.start(sources=(one, one), length_frames=4 * RATE)
        assert bench.to_end().reason == "unfit"


@pytest.mark.parametrize("sample_format", FORMATS)
@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("output", [SEND, EAR])
def test_what_is_no_number_never_reaches_an_output(
    tmp_path: Path, sample_format: SampleFormat, bad: float, output: int
) -> None:
    samples = np.full(4 * RATE, 0.5)
    samples[3 * RATE] = bad
    path = write(tmp_path / "bad.wav", samples, "FLOAT")
    source = Source(path=path, outputs=((output, 1.0),), reaches_send=output == SEND)
    with running(sample_format) as bench:
        bench.start(sources=(source,), length_frames=4 * RATE)
        ended = bench.to_end()
        levels = bench.device.levels()
    assert ended.reason == "unfit"
    assert f"no number, at frame {3 * RATE}" in ended.note
    assert np.isfinite(levels).all()
    assert steps(levels[:, output])[1000:].max() <= STEEPEST
    others = [n for n in range(4) if n != output]
    assert not levels[:, others].any()


def test_a_file_that_is_bad_from_the_start_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    path = write(tmp_path / "bad.wav", np.full(RATE, np.nan), "FLOAT")
    with running() as bench:
        with pytest.raises(UseError, match="no number"):
            bench.start(sources=(di(path),), length_frames=RATE, record=str(tmp_path / "roll.json"))
        assert bench.stream.recording is None
    assert [one.name for one in tmp_path.iterdir()] == ["bad.wav"]


# ------------------------------------------------------------------ how sound begins and ends


@pytest.mark.parametrize("sample_format", FORMATS)
def test_a_di_leaves_bit_for_bit_in_blocks_of_any_size_beside_a_cue_that_fades(
    tmp_path: Path, sample_format: SampleFormat
) -> None:
    noise = np.random.default_rng(5).integers(-(1 << 22), 1 << 22, 2 * RATE) / (1 << 23)
    path, other = write(tmp_path / "di.wav", noise), steady(tmp_path / "cue.wav")
    sizes = Random(3)  # noqa: S311 -- block sizes
    with running(sample_format) as bench:
        start = bench.start(
            sources=(cue(other, (EAR, 1.0)), di(path)), length_frames=len(noise), splice_frames=0
        )
        while bench.stream.recording is not None and bench.device.frame < start + len(noise):
            if sizes.random() < 0.1:
                value, shape = sizes.choice((0.0, 1.0)), sizes.choice(("linear", "equal power"))
                bench.stream.gain(Gain(roll_id=1, gains=((0, EAR, value),), shape=shape))
            bench.turn(sizes.choice((1, 7, 64, 256)))
        assert bench.ended.get(timeout=20).reason == "complete"
        np.testing.assert_array_equal(bench.sent()[start : start + len(noise)], noise)
        assert steps(bench.sent(EAR))[start + 1 :].max() <= STEEPEST


def test_the_end_of_a_roll_fades_what_it_cuts_and_nothing_else(tmp_path: Path) -> None:
    long, short = steady(tmp_path / "a.wav"), steady(tmp_path / "b.wav", seconds=0.5)
    with running() as bench:
        start = bench.start(
            sources=(di(short), cue(long, (EAR, 1.0))), length_frames=RATE // 2 + FADE // 2
        )
        bench.to_end()
        bench.turn()
        whole, cut = bench.sent()[start:], bench.sent(EAR)[start:]
    assert np.all(whole[: RATE // 2] == 0.5), "how the file itself ends is its own affair"
    assert not whole[RATE // 2 :].any()
    assert steps(cut)[1:].max() <= STEEPEST
    assert not cut[RATE // 2 + FADE // 2 :].any()


@pytest.mark.parametrize(
    ("stretch", "begins", "ends"),
    [
        ({"from_frame": 100}, True, False),
        ({"frames": RATE}, False, True),
        ({"at_frame": -100}, True, False),
        ({"from_frame": 100, "frames": FADE}, True, True),
    ],
)
def test_a_stretch_cut_out_of_music_fades_where_it_was_cut(
    tmp_path: Path, stretch: dict[str, int], begins: bool, ends: bool
) -> None:
    path = steady(tmp_path / "a.wav", seconds=2.0)
    with running() as bench:
        start = bench.start(sources=(di(path, **stretch),), length_frames=3 * RATE)
        bench.to_end()
        sounding = np.flatnonzero(bench.sent())
        edges = steps(bench.sent())
    assert sounding[0] == start
    assert (edges[start] <= STEEPEST) == begins
    assert (edges[sounding[-1] + 1] <= STEEPEST) == ends


def test_jumps_into_each_others_fades_make_no_step(tmp_path: Path) -> None:
    levels = np.repeat([0.5, -0.5, 0.25, -0.25], RATE)
    path = write(tmp_path / "a.wav", levels)
    with running() as bench:
        start = bench.start(sources=(di(path),), length_frames=4 * RATE)
        bench.turn_until(1000)
        for to in (1.5, 2.5, 0.5, 3.5, 1.2):
            bench.stream.jump(round(to * RATE))
            wild.fulfilled(bench.program)
            bench.turn(64)
        bench.turn_until(4000)
        bench.stream.stop("stopped")
        bench.to_end()
        sent = bench.sent()[start + 1 :]
    assert sent.min() < -0.4
    assert steps(sent)[1:].max() <= 4 * STEEPEST, "an equal-power fade of both sides"


@pytest.mark.parametrize("sample_format", FORMATS)
def test_a_feed_that_runs_dry_fades_out_and_in_again_and_all_of_it_is_counted(
    tmp_path: Path, sample_format: SampleFormat
) -> None:
    path = steady(tmp_path / "a.wav", seconds=8.0)
    with running(sample_format) as bench:
        start = bench.start(sources=(di(path),), length_frames=4 * RATE)
        feed = bench.program.feed
        bench.program.feed = lambda _: False  # type: ignore[method-assign]
        bench.turn_until(round(1.5 * RATE), fed=False)
        assert bench.sent()[-1] == 0.0
        bench.program.feed = feed  # type: ignore[method-assign]
        ended = bench.to_end()
        sent = bench.sent()[start : start + 4 * RATE]
    (dropout,) = ended.dropouts
    assert dropout.kind == "starved"
    touched = np.flatnonzero(sent[: 4 * RATE - FADE] != 0.5)
    assert dropout.at_frame == touched[0]
    assert dropout.frames == touched[-1] + 1 - touched[0]
    assert steps(sent)[1:].max() <= STEEPEST
    assert sent[2 * RATE] == 0.0 or touched[-1] < 2 * RATE


def test_a_stream_that_is_closed_under_a_roll_fades_out(tmp_path: Path) -> None:
    path = steady(tmp_path / "a.wav")
    bench = Bench()
    start = bench.start(sources=(di(path),), length_frames=4 * RATE)
    bench.turn_until(RATE)
    turn_while(bench.device, bench.stream.close, frames=BLOCK)
    bench.device.turn(BLOCK)
    assert bench.ended.get(timeout=20).reason == "closed"
    assert steps(bench.sent())[start + 1 :].max() <= STEEPEST
    assert not bench.sent()[-BLOCK:].any()


def test_a_quiet_end_in_mid_sound_records_to_its_frame_and_fades_what_still_sounds(
    tmp_path: Path,
) -> None:
    path = steady(tmp_path / "a.wav")
    quiet = QuietEnd(after_frame=RATE, inputs=(0,), under_dbfs=(-60.0,), for_frames=RATE // 4)
    with running() as bench:
        start = bench.start(sources=(di(path),), length_frames=4 * RATE, quiet=quiet)
        ended = bench.to_end()
        bench.turn()
    assert (ended.reason, ended.frames) == ("quiet", RATE + RATE // 4)
    assert steps(bench.sent())[start + 1 :].max() <= STEEPEST


def test_a_roll_stopped_before_its_first_frame_sends_nothing(tmp_path: Path) -> None:
    path = steady(tmp_path / "a.wav")
    with running() as bench:
        bench.start(sources=(di(path),), length_frames=RATE)
        bench.stream.stop("stopped")
        assert bench.to_end().frames == 0
        bench.turn()
        assert not bench.sent().any()


@pytest.mark.parametrize("sample_format", FORMATS)
def test_nothing_brings_sound_back_after_a_stop_whichever_thread_asks_for_it(
    tmp_path: Path, sample_format: SampleFormat
) -> None:
    path = steady(tmp_path / "a.wav", seconds=8.0)
    over = threading.Event()
    with running(sample_format) as bench:
        bench.start(sources=(di(path),), length_frames=8 * RATE)
        stream = bench.stream
        orders: tuple[Callable[[], None], ...] = (
            lambda: stream.extend(7 * RATE),
            lambda: stream.jump(RATE),
            lambda: stream.loop(Span(start=0, end=RATE)),
            lambda: stream.gain(Gain(roll_id=1, gains=((0, SEND, 1.0),))),
            lambda: stream.stop("stopped"),
        )

        def insist(order: Callable[[], None]) -> None:
            while not over.is_set():
                order()
                time.sleep(0.0002)  # between two orders, so that the device is not starved

        bench.turn_until(RATE)
        stopped_at = bench.device.frame
        threads = [threading.Thread(target=insist, args=(one,)) for one in orders]
        stream.stop("stopped")
        for thread in threads:
            thread.start()
        try:
            for _ in range(3 * FADE // 16):
                bench.turn(16)
            ended = bench.ended.get(timeout=20)
            for _ in range(100):
                bench.turn(16)
        finally:
            over.set()
            for thread in threads:
                thread.join()
        sent = bench.sent()
    assert ended.reason == "stopped"
    assert np.all(sent[stopped_at - FADE : stopped_at] == 0.5)
    assert not sent[stopped_at + FADE :].any()
    assert steps(sent)[stopped_at - FADE :].max() <= STEEPEST


def test_a_roll_is_refused_while_another_one_rolls(tmp_path: Path) -> None:
    path = steady(tmp_path / "a.wav")
    with running() as bench:
        bench.start(sources=(di(path),), length_frames=RATE)
        with pytest.raises(UseError, match="under way"):
            bench.start(length_frames=RATE)


def test_a_callback_that_fails_leaves_zeros(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = steady(tmp_path / "a.wav")
    with running() as bench:
        bench.start(sources=(di(path),), length_frames=RATE)
        block = np.full((BLOCK, 4), 77, dtype=np.int32)

        def fails(*_: object) -> None:
            raise RuntimeError("a mistake of ours")

        with monkeypatch.context() as patched:
            patched.setattr(bench.stream.callback.program, "play", fails)
            with pytest.raises(RuntimeError):
                bench.stream.callback(np.zeros((BLOCK, 4), dtype=np.int32), block, BLOCK, 0.0, 0)
        assert not block.any()


# ------------------------------------------------------------------ the dead amp


@pytest.mark.parametrize("loud_from", [0, 399, 401, 12_345])
def test_a_dead_amp_is_sent_to_for_its_second_one_window_and_the_writers_latency(
    tmp_path: Path, loud_from: int
) -> None:
    """Window 50 ms, counted from roll frame 0; the writer may hold the news back for what it was given
    meanwhile, here one block at a time; then the fade."""
    path = write(tmp_path / "a.wav", np.r_[np.zeros(loud_from), np.full(4 * RATE, 0.5)])
    dead = DeadEnd(
        output=SEND, loud_dbfs=-30.0, inputs=(0, 1), under_dbfs=(-80.0,) * 2, for_frames=RATE
    )
    with running() as bench:
        bench.start(sources=(di(path),), length_frames=5 * RATE, dead=dead)
        program, callback = bench.program, bench.stream.callback
        while not program.is_over(bench.device.frame):
            bench.turn()
            while callback.drained < callback.frame and not program.stopped:
                time.sleep(0.0005)
        ended = bench.ended.get(timeout=20)
        sounding = np.flatnonzero(bench.sent())
    assert ended.reason == "dead"
    assert sounding[-1] + 1 - sounding[0] <= RATE + RATE // 20 + 2 * BLOCK + FADE
