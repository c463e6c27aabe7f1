"""Placing by the music: properties that must hold whatever the constants are.

The paths are plain ones, made here: a delay, a gain, a curve, noise. What a loudspeaker does to the first
arrival is judged in ``tests/benchmarks/bench_offset.py``.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from playing import phrase
from scipy import signal

from audio.measure.music import RunningMusic, align
from audio.vocab.alignment import Alignment

RATE = 48_000
NEAR = 0.4
"""Frames within which a plain path is measured."""
pytestmark = needs_samples()


@pytest.fixture(scope="module")
def di() -> np.ndarray:
    return phrase(rate=RATE, seconds=8.0, seed=41)


def heard(di: np.ndarray, frames: int, *, seed: int = 1) -> np.ndarray:
    """Return the DI later by some frames, or earlier, in noise 40 dB under it."""
    late = np.concatenate((np.zeros(max(frames, 0)), di))[max(-frames, 0) :]
    noise = np.random.default_rng(seed).standard_normal(len(late))
    return late + 0.01 * np.sqrt(np.mean(di**2)) * noise


def running(di: np.ndarray, recording: np.ndarray, *, piece: int) -> Alignment:
    one = RunningMusic(rate=RATE)
    frames = min(len(di), len(recording))
    for at in range(0, frames, piece):
        end = min(at + piece, frames)
        one.feed(di[at:end], recording[at:end])
    return one.alignment()


@pytest.mark.slow
@settings(max_examples=8)
@given(frames=st.integers(-3 * RATE, 20 * RATE))
def test_a_delay_that_was_put_in_is_measured(di: np.ndarray, frames: int) -> None:
    found = align(di, heard(di, frames), rate=RATE)
    assert found.delay_frames == pytest.approx(frames, abs=NEAR)
    assert found.polarity == "normal"
    assert found.confidence > 0.9
    assert found.slips == ()


@pytest.mark.slow
@pytest.mark.parametrize("seconds", [-118, 118])
def test_two_minutes_early_or_late_are_found(seconds: int) -> None:
    long = np.concatenate([phrase(rate=RATE, seconds=8.0, seed=s) for s in range(60, 77)])
    late = seconds * RATE + 777
    recording = heard(long, late)
    found = align(long, recording, rate=RATE)
    assert found.delay_frames == pytest.approx(late, abs=1.0)


@pytest.mark.parametrize("frames", [-1200, 0, 1, 1200])
def test_beside_a_recording_it_is_measured_while_it_comes_in(di: np.ndarray, frames: int) -> None:
    found = running(di, heard(di, frames), piece=4096)
    assert found.delay_frames == pytest.approx(frames, abs=NEAR)


def test_pieces_of_any_size_give_the_same_result(di: np.ndarray) -> None:
    recording = heard(di, 311)
    assert running(di, recording, piece=1777) == running(di, recording, piece=96_000)


def test_flipping_the_recording_flips_the_polarity_and_nothing_else(di: np.ndarray) -> None:
    up = align(di, heard(di, 500), rate=RATE)
    down = align(di, -heard(di, 500), rate=RATE)
    assert (up.polarity, down.polarity) == ("normal", "inverted")
    assert down.delay_frames == pytest.approx(up.delay_frames, abs=1e-3)
    assert down.plus_minus_frames == pytest.approx(up.plus_minus_frames, abs=1e-2)


@pytest.mark.parametrize("gain_db", [-40.0, 15.0])
def test_the_level_of_either_changes_nothing(di: np.ndarray, gain_db: float) -> None:
    gain = 10.0 ** (gain_db / 20.0)
    as_it_is = align(di, heard(di, 500), rate=RATE)
    for changed in (
        align(di, gain * heard(di, 500), rate=RATE),
        align(gain * di, heard(di, 500), rate=RATE),
    ):
        assert changed.delay_frames == pytest.approx(as_it_is.delay_frames, abs=0.02)
        assert changed.polarity == as_it_is.polarity


@pytest.mark.slow
@pytest.mark.parametrize("frames", [1, -7, 256, -2000, 9000])
def test_frames_inserted_or_lost_at_a_point_are_found_there(frames: int) -> None:
    di = phrase(rate=RATE, seconds=20.0, seed=43)
    recording, at = heard(di, 700), 9 * RATE
    there = at + 700
    gap = np.zeros(max(frames, 0))
    slipped = np.concatenate((recording[:there], gap, recording[there + max(-frames, 0) :]))
    found = align(di, slipped, rate=RATE)
    assert found.delay_frames == pytest.approx(700, abs=NEAR)
    assert [slip.frames for slip in found.slips] == [frames]
    assert abs(found.slips[0].at_frame - at) <= found.slips[0].within_frames + 4800
    assert abs(found.drift_ppm) < 1.0


def test_a_drifting_clock_is_no_slip(di: np.ndarray) -> None:
    ppm = 60.0
    recording = heard(di, 300)
    at = np.arange(len(recording)) / (1.0 + ppm * 1e-6)
    drifted = np.interp(at, np.arange(len(recording)), recording)
    found = align(di, drifted, rate=RATE)
    assert found.drift_ppm == pytest.approx(ppm, abs=max(1.0, 2.0 * found.drift_plus_minus_ppm))
    assert found.slips == ()


@pytest.mark.parametrize("drive_db", [20.0, 40.0, 60.0])
def test_an_odd_curve_moves_nothing(di: np.ndarray, drive_db: float) -> None:
    driven = np.arctan(10.0 ** (drive_db / 20.0) * di)
    found = align(di, heard(driven, 900), rate=RATE)
    assert found.delay_frames == pytest.approx(900, abs=1.5)
    assert found.polarity == "normal"


def refusal(found: Alignment) -> str:
    assert found.delay_frames is None
    assert found.reason is not None
    return found.reason


def test_a_di_without_attacks_is_refused() -> None:
    swell = np.sin(np.arange(8 * RATE) * 0.03) * np.hanning(8 * RATE)
    assert "no clear attacks" in refusal(align(swell, heard(swell, 100), rate=RATE))


def test_another_take_of_the_same_notes_is_refused(di: np.ndarray) -> None:
    other = phrase(rate=RATE, seconds=8.0, seed=44)
    refusal(align(di, heard(other, 100), rate=RATE))


def test_silence_and_nothing_at_all_are_refused(di: np.ndarray) -> None:
    refusal(align(di, np.zeros(len(di)), rate=RATE))
    refusal(align(di, np.zeros(0), rate=RATE))
    refusal(align(np.zeros(RATE), di, rate=RATE))
    refusal(RunningMusic(rate=RATE).alignment())


def test_a_moving_delay_is_refused(di: np.ndarray) -> None:
    at = np.arange(len(di))
    moved = at - 150.0 - 30.0 * np.sin(2.0 * np.pi * 5.0 * at / RATE)
    vibrato = np.interp(moved, at, di)
    assert "moves" in refusal(align(di, vibrato, rate=RATE))


def test_a_loop_that_fits_at_several_places_is_not_placed_at_a_wrong_one() -> None:
    bar = phrase(rate=RATE, seconds=4.0, seed=45)
    loop = np.tile(bar, 6)
    inside = heard(loop, 0)[len(bar) * 2 : len(bar) * 4]
    found = align(loop, inside, rate=RATE)
    assert found.delay_frames is None or found.confidence < 0.5


def test_a_loop_heard_whole_is_placed() -> None:
    loop = np.tile(phrase(rate=RATE, seconds=4.0, seed=45), 6)
    found = align(loop, heard(loop, 5 * RATE), rate=RATE)
    assert found.delay_frames == pytest.approx(5 * RATE, abs=NEAR)


def test_a_return_that_is_all_reverb_is_refused(di: np.ndarray) -> None:
    taps = np.zeros(2400)
    taps[[400, 870, 1290, 1610, 1990, 2310]] = (0.9, -1.0, 0.95, -0.85, 0.9, 0.8)
    assert "reverb" in refusal(align(di, signal.fftconvolve(di, taps), rate=RATE))


def test_an_echo_beside_the_dry_sound_is_no_reverb(di: np.ndarray) -> None:
    taps = np.zeros(14_401)
    taps[[0, 14_400]] = (1.0, 0.8)
    found = align(di, signal.fftconvolve(di, taps), rate=RATE)
    assert found.delay_frames == pytest.approx(0.0, abs=NEAR)
