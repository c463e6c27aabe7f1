"""Rings, fades, meters and end conditions, each by itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.engine.conditions import Conditions
from audio.engine.fades import Valve
from audio.engine.meters import MeterBank
from audio.engine.mix import Change, Mixer, Shape, prepare
from audio.engine.ring import Ring, size_for
from audio.vocab.messages import DeadEnd, QuietEnd

RATE = 48_000


@given(start=st.integers(0, 2**40), sizes=st.lists(st.integers(1, 700), min_size=1, max_size=12))
def test_a_ring_gives_back_what_was_put_whatever_the_frame_number(
    start: int, sizes: list[int]
) -> None:
    ring = Ring(1024, 2, np.float32)
    frame = start
    for size in sizes:
        block = np.arange(2 * size, dtype=np.float32).reshape(size, 2) + frame % 97
        ring.put(frame, block)
        np.testing.assert_array_equal(ring.copy(frame, size), block)
        np.testing.assert_array_equal(np.concatenate(ring.pieces(frame, size)), block)
        frame += size


@pytest.mark.parametrize(
    ("seconds", "rate", "size"), [(1.0, 48_000, 65_536), (0.001, 48_000, 1024)]
)
def test_ring_sizes_are_powers_of_two_that_hold_the_time(
    seconds: float, rate: int, size: int
) -> None:
    assert size_for(seconds, rate=rate) == size


@given(
    cuts=st.lists(st.integers(1, 300), min_size=1, max_size=30),
    begin=st.integers(0, 1500),
    length=st.integers(1, 900),
)
def test_a_fade_is_the_same_however_the_blocks_fall(
    cuts: list[int], begin: int, length: int
) -> None:
    rng = np.random.default_rng(1)
    sources = rng.standard_normal((sum(cuts), 3)).astype(np.float32)
    before, after = rng.random((2, 3, 2), dtype=np.float32)

    def mixed(sizes: list[int]) -> np.ndarray:
        mixer = Mixer(before, allowed=before >= 0, block_frames=max(sizes))
        mixer.begin(prepare(Change(after, begin, length, "linear")), frame=0)
        out, at = np.zeros((sum(sizes), 2), dtype=np.float32), 0
        for size in sizes:
            mixer.product(at, sources[at : at + size], out[at : at + size])
            at += size
        return out

    np.testing.assert_allclose(mixed(cuts), mixed([sum(cuts)]), atol=2e-6)
    weight = np.clip((np.arange(sum(cuts)) - begin + 0.5) / length, 0, 1)
    weight[np.arange(sum(cuts)) < begin] = 0
    expected = (sources @ before) * (1 - weight)[:, None] + (sources @ after) * weight[:, None]
    np.testing.assert_allclose(mixed(cuts), expected, atol=1e-5)


def test_a_fade_that_interrupts_another_starts_where_that_one_stood() -> None:
    ones = np.ones((1, 1), dtype=np.float32)
    mixer = Mixer(ones, allowed=ones > 0, block_frames=1000)
    mixer.begin(prepare(Change(0 * ones, 0, 1000, "linear")), frame=0)
    out = np.zeros((500, 1), dtype=np.float32)
    mixer.product(0, np.ones((500, 1), dtype=np.float32), out)
    mixer.begin(prepare(Change(ones, 500, 100, "linear")), frame=500)
    after = np.zeros((101, 1), dtype=np.float32)
    mixer.product(500, np.ones((101, 1), dtype=np.float32), after)
    assert abs(float(after[0, 0]) - float(out[-1, 0])) < 0.01
    assert after[100, 0] == 1.0


@given(
    ends=st.tuples(st.floats(0, 1, width=32), st.floats(0, 1, width=32)),
    shape=st.sampled_from(("linear", "equal power")),
)
def test_no_gain_leaves_the_range_of_its_two_ends_and_one_that_stays_stays_exactly(
    ends: tuple[float, float], shape: Shape
) -> None:
    before = np.array([[ends[0], 1.0]], dtype=np.float32)
    after = np.array([[ends[1], 1.0]], dtype=np.float32)
    mixer = Mixer(before, allowed=before >= 0, block_frames=512)
    mixer.begin(prepare(Change(after, 10, 480, shape)), frame=0)
    out = np.zeros((512, 2), dtype=np.float32)
    mixer.product(0, np.full((512, 1), 0.3, dtype=np.float32), out)
    assert np.all(out[:, 1] == np.float32(0.3))
    low, high = 0.3 * min(ends), 0.3 * max(ends)
    assert out[:, 0].min() >= low - 1e-6
    assert out[:, 0].max() <= high + 1e-6


@given(turns=st.lists(st.tuples(st.booleans(), st.integers(1, 300)), min_size=1, max_size=12))
def test_a_valve_changes_its_mind_anywhere_without_a_step_and_is_exact_at_its_ends(
    turns: list[tuple[bool, int]],
) -> None:
    valve, weights = Valve(160), [np.ones(1, dtype=np.float32)]
    for closes, frames in [*turns, (True, 160), (True, 5), (False, 160), (False, 5)]:
        (valve.close if closes else valve.open)()
        rows = np.ones((frames, 1), dtype=np.float32)
        touched = valve.weigh(rows)
        assert np.all(rows[touched:] == 1.0)
        weights.append(rows[:, 0])
    assert np.abs(np.diff(np.concatenate(weights))).max() <= np.pi / 2 / 160
    assert not weights[-3].any()
    assert np.all(weights[-1] == 1.0)


def test_meters_read_a_sine_as_a_handbook_does() -> None:
    """RMS of a sine is its peak over the square root of two: 3.01 dB (any handbook)."""
    bank = MeterBank(rate=RATE, channels=2)
    time = np.arange(RATE // 10) / RATE
    levels = np.zeros((len(time), 2), dtype=np.float32)
    levels[:, 1] = 0.5 * np.sin(2 * np.pi * 1000 * time)
    assert bank.feed(levels)
    meters = bank.read(1, 2)
    assert meters.peak[0] == pytest.approx(0.5, rel=1e-4)
    assert meters.rms[0] == pytest.approx(0.5 / np.sqrt(2), rel=1e-3)
    assert bank.read(0, 1).peak == (0.0,)


def test_meters_hold_peaks_and_count_clips_until_a_roll_begins() -> None:
    bank = MeterBank(rate=RATE, channels=1)
    loud = np.full((1200, 1), 1.0, dtype=np.float32)
    bank.feed(loud)
    bank.feed(0 * loud)
    bank.feed(0 * loud)
    bank.feed(0 * loud)
    assert bank.read(0, 1).held == (1.0,)
    assert bank.read(0, 1).clips == (1200,)
    assert bank.read(0, 1).peak == (0.0,)
    bank.reset_holds()
    assert bank.read(0, 1).held == (0.0,)


def conditions(**ends: object) -> Conditions:
    wanted: dict[str, object] = {"quiet": None, "dead": None} | ends
    return Conditions(rate=RATE, inputs=2, outputs=1, **wanted)  # type: ignore[arg-type]


@given(cuts=st.lists(st.integers(1, 9000), min_size=30, max_size=60))
def test_where_a_roll_ends_does_not_depend_on_how_its_frames_arrive(cuts: list[int]) -> None:
    total = 120_000
    levels = np.zeros((total, 3), dtype=np.float32)
    levels[:50_000] = 0.1
    quiet = QuietEnd(after_frame=20_000, inputs=(0, 1), under_dbfs=(-40, -40), for_frames=24_000)
    watch, at = conditions(quiet=quiet), 0
    due = None
    for size in [*cuts, total]:
        due = watch.feed(levels[at : at + size])
        at += size
        if due or at >= total:
            break
    # Loud to 50 000; the first quiet window of 2400 begins at 50 400; 24 000 frames from there.
    assert due is not None
    assert (due.frame, due.reason) == (74_400, "quiet")


def test_an_amp_is_dead_only_while_the_send_sounds() -> None:
    dead = DeadEnd(output=0, loud_dbfs=-30, inputs=(0, 1), under_dbfs=(-70, -70), for_frames=RATE)
    silent = np.zeros((4 * RATE, 3), dtype=np.float32)
    assert conditions(dead=dead).feed(silent) is None
    sounding = silent.copy()
    sounding[:, 2] = 0.1
    due = conditions(dead=dead).feed(sounding)
    assert due is not None
    assert (due.frame, due.reason) == (RATE, "dead")


def test_one_answering_microphone_keeps_an_amp_alive() -> None:
    dead = DeadEnd(output=0, loud_dbfs=-30, inputs=(0, 1), under_dbfs=(-70, -70), for_frames=RATE)
    levels = np.zeros((4 * RATE, 3), dtype=np.float32)
    levels[:, 2] = 0.1
    levels[:, 1] = 0.01
    assert conditions(dead=dead).feed(levels) is None
