"""Measures that are fed piece by piece: how the sound was cut must not show."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from playing import phrase

from audio.measure.loudness import RunningLoudness
from audio.measure.running import RunningLevels, RunningReturn, window_frames
from audio.vocab.results import ClippedRun, ReturnMeasures

RATE = 44_100


def measured(signal: np.ndarray, cuts: list[int], *, rate: int = RATE) -> ReturnMeasures:
    running = RunningReturn(rate=rate)
    for piece in np.split(signal, sorted(cuts)):
        running.feed(piece)
    return running.measures(path="close.wav")


@pytest.mark.slow
@needs_samples()
@settings(max_examples=25)
@given(data=st.data(), rate=st.sampled_from((44_100, 48_000, 96_000)))
def test_the_result_does_not_depend_on_how_the_sound_was_cut(data: Any, rate: int) -> None:
    music = np.clip(phrase(rate=rate, seconds=1.7, seed=1, peak_dbfs=4.0), -1.0, 1.0)
    cuts = data.draw(st.lists(st.integers(0, music.size), max_size=40))
    whole = measured(music, [], rate=rate)
    assert whole.clipped_runs > 0
    assert whole.loudness_lufs is not None
    assert measured(music, cuts, rate=rate) == whole


@needs_samples()
def test_the_last_bit_does_not_depend_on_how_many_hops_came_at_once() -> None:
    music = phrase(rate=96_000, seconds=1.7, seed=1, peak_dbfs=0.0)
    in_one, piecemeal = RunningLoudness(rate=96_000), RunningLoudness(rate=96_000)
    hops = music[: music.size // 9_600 * 9_600].reshape(-1, 9_600)
    in_one.feed(hops)
    for at in range(hops.shape[0]):
        piecemeal.feed(hops[at : at + 1])
    assert in_one.powers().tolist() == piecemeal.powers().tolist()


def test_runs_at_full_scale_are_found_with_place_and_length_from_three_samples_on() -> None:
    signal = np.zeros(1000)
    signal[10:12] = 1.0
    signal[100:103] = 1.0 - 2.0**-23
    signal[500:540] = -1.0
    signal[998:] = 1.0
    got = measured(signal, [])
    assert got.clipped_runs == 2
    assert got.first_clipped == (
        ClippedRun(at_frame=100, frames=3),
        ClippedRun(at_frame=500, frames=40),
    )
    assert got.peak_dbfs == 0.0


@given(cut=st.integers(95, 110))
def test_a_run_across_two_pieces_is_one(cut: int) -> None:
    signal = np.zeros(300)
    signal[100:105] = -1.0
    assert measured(signal, [cut]).first_clipped == (ClippedRun(at_frame=100, frames=5),)


def test_a_run_that_lasts_to_the_end_counts() -> None:
    signal = np.zeros(300)
    signal[290:] = 1.0
    assert measured(signal, [295]).first_clipped == (ClippedRun(at_frame=290, frames=10),)


def test_the_first_hundred_runs_are_told_and_all_are_counted() -> None:
    signal = np.zeros(10_000)
    for k in range(1000):
        signal[10 * k : 10 * k + 4] = 1.0
    got = measured(signal, [5003])
    assert (got.clipped_runs, len(got.first_clipped)) == (1000, 100)
    assert got.first_clipped[-1].at_frame == 990


def test_levels_of_returns_and_di_stand_on_the_same_windows() -> None:
    window = window_frames(rate=RATE)
    signal = np.concatenate((np.full(window, 0.1), np.zeros(window), np.full(100, 0.01)))
    levels = RunningLevels(rate=RATE)
    levels.feed(signal)
    assert levels.levels_dbfs() == pytest.approx((-20.0, -200.0, -40.0))
    assert measured(signal, [17]).levels_dbfs == levels.levels_dbfs()


@pytest.mark.parametrize("seconds", [0.0, 0.1, 0.399])
def test_what_is_shorter_than_a_block_has_no_loudness(seconds: float) -> None:
    assert measured(np.full(round(seconds * RATE), 0.1), []).loudness_lufs is None


def test_what_never_rises_over_the_gate_has_no_loudness() -> None:
    noise = np.random.default_rng(1).standard_normal(2 * RATE) * 1e-5
    got = measured(noise, [])
    assert got.loudness_lufs is None
    assert got.frames == 2 * RATE


@pytest.mark.slow
@given(gain_db=st.floats(-30.0, 10.0))
def test_gain_moves_loudness_by_exactly_its_decibels(gain_db: float) -> None:
    noise = np.random.default_rng(2).standard_normal(RATE) * 0.01
    plain, louder = measured(noise, []), measured(noise * 10 ** (gain_db / 20), [])
    assert plain.loudness_lufs is not None
    assert louder.loudness_lufs == pytest.approx(plain.loudness_lufs + gain_db, abs=1e-6)
