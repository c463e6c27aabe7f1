"""Clock accounting: steps and rates planted into late callbacks are found, and nothing else is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.engine.clock import ClockWatch, Step

RATE = 48_000
BLOCK = 512


def callbacks(
    *, seconds: float, seed: int, jitter_s: float = 0.002, ppm: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Frames and times of callbacks that are late by an exponential jitter, never early."""
    frames = np.arange(0, int(seconds * RATE), BLOCK)
    late = np.random.default_rng(seed).exponential(jitter_s / 3, len(frames))
    return frames, 1000.0 + frames / (RATE * (1 + ppm * 1e-6)) + late


def run(frames: np.ndarray, times: np.ndarray) -> tuple[list[Step], ClockWatch]:
    watch = ClockWatch(rate=RATE, block_frames=BLOCK)
    steps = [watch.note(int(f), float(t)) for f, t in zip(frames, times, strict=True)]
    return [s for s in steps if s is not None], watch


@given(seed=st.integers(0, 2**32 - 1), ppm=st.floats(-200, 200))
def test_jitter_and_an_ordinary_crystal_make_no_step(seed: int, ppm: float) -> None:
    steps, _ = run(*callbacks(seconds=20, seed=seed, ppm=ppm))
    assert steps == []


@given(
    seed=st.integers(0, 2**32 - 1),
    lost=st.integers(2 * BLOCK, 40 * BLOCK),
    at=st.floats(1.0, 18.0),
)
def test_lost_frames_are_found_in_size_and_place(seed: int, lost: int, at: float) -> None:
    frames, times = callbacks(seconds=20, seed=seed)
    times[frames >= at * RATE] += lost / RATE
    steps, _ = run(frames, times)
    assert len(steps) == 1
    assert steps[0].frames == pytest.approx(lost, abs=0.001 * RATE)
    # The stretch in which it is seen begins at most one stretch and one block before or after it.
    assert abs(steps[0].at_frame - at * RATE) <= 0.27 * RATE + lost


def test_a_stall_that_loses_nothing_is_no_step() -> None:
    frames, times = callbacks(seconds=10, seed=4)
    stalled = (frames > 3 * RATE) & (frames < 3.3 * RATE)
    times[stalled] = times[stalled].max()
    steps, _ = run(frames, times)
    assert steps == []


def test_a_step_at_the_very_end_is_told_as_unconfirmed() -> None:
    frames, times = callbacks(seconds=10, seed=4)
    times[frames >= 9.6 * RATE] += 0.09
    steps, watch = run(frames, times)
    last = watch.unconfirmed()
    assert steps == []
    assert last is not None
    assert last.frames == pytest.approx(0.09 * RATE, abs=0.001 * RATE)


def test_a_device_that_runs_at_another_standard_rate_is_a_rate_error_of_that_size() -> None:
    """44 100 where 48 000 was asked for is 81 250 ppm slow."""
    _, watch = run(*callbacks(seconds=10, seed=6, ppm=-81_250.0))
    error = watch.rate_error()
    assert error is not None
    assert error.ppm == pytest.approx(-81_250, rel=0.01)


@pytest.mark.parametrize("ppm", [-1088.0, -80.0, 0.0, 35.0, 1000.0])
def test_the_rate_error_is_found_within_its_own_interval(ppm: float) -> None:
    """A pull-down is 1000/1001: 999 ppm (SMPTE 170M's 30/1.001; from memory)."""
    _, watch = run(*callbacks(seconds=10, seed=3, ppm=ppm))
    error = watch.rate_error()
    assert error is not None
    assert error.ppm == pytest.approx(ppm, abs=error.plus_minus_ppm)
    assert error.plus_minus_ppm < 250


def test_a_step_does_not_pass_for_a_rate_error() -> None:
    frames, times = callbacks(seconds=20, seed=5)
    times[frames >= 10 * RATE] += 0.09
    _, watch = run(frames, times)
    error = watch.rate_error()
    assert error is not None
    assert abs(error.ppm) < 60


def test_a_loss_too_small_to_be_told_as_a_step_is_no_wrong_rate() -> None:
    frames, times = callbacks(seconds=8, seed=5)
    times[frames >= 4 * RATE] += 500 / RATE
    _, watch = run(frames, times)
    error = watch.rate_error()
    assert error is not None
    assert abs(error.ppm) - error.plus_minus_ppm < 100


def test_too_short_a_stream_says_nothing() -> None:
    _, watch = run(*callbacks(seconds=0.8, seed=1))
    assert watch.rate_error() is None


def test_memory_stays_bounded_over_hours() -> None:
    watch = ClockWatch(rate=RATE, block_frames=BLOCK)
    for n in range(20_000):
        watch.note(n * 12_000, n * 0.25 + 1e-4)
    assert len(watch._points) <= 4096
