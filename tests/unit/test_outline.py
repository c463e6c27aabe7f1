"""Outlines for the eye: nothing drawn that is not there, nothing lost that is."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from needs import GUITARS, needs_samples

from audio.measure.outline import BASE_FRAMES, MOST_AT_TOP, STEP, codes, lows_and_highs, pyramid

STEP_OF_16_BITS = 2.0**-15

signals = st.lists(st.floats(-1.5, 1.5), min_size=1, max_size=700).map(np.array)


@needs_samples()
@pytest.mark.parametrize("path", GUITARS, ids=lambda path: path.stem)
def test_every_stretch_of_real_playing_holds_its_samples_within_one_step(path: object) -> None:
    signal = soundfile.read(str(path), always_2d=True)[0][:, 0]
    lows, highs = lows_and_highs(signal, bin_frames=BASE_FRAMES)
    for k, (low, high) in enumerate(zip(lows, highs, strict=True)):
        stretch = signal[k * BASE_FRAMES : (k + 1) * BASE_FRAMES]
        assert 0 <= stretch.min() - low * STEP_OF_16_BITS < STEP_OF_16_BITS
        assert 0 <= high * STEP_OF_16_BITS - stretch.max() < STEP_OF_16_BITS or high == 32_767


@needs_samples()
def test_sixteen_bits_of_a_file_are_the_codes_libsndfile_reads(tmp_path_factory: object) -> None:
    """Referee: libsndfile's own integers of a 16-bit file."""
    folder = tmp_path_factory.mktemp("codes")  # type: ignore[attr-defined]
    signal = soundfile.read(str(GUITARS[0]), always_2d=True)[0][:, 0]
    soundfile.write(folder / "16.wav", signal, 44_100, "PCM_16")
    told, _ = soundfile.read(folder / "16.wav", dtype="int16")
    exact, _ = soundfile.read(folder / "16.wav", dtype="float64")
    assert np.array_equal(codes(exact), told)


@given(signals, st.integers(1, 300))
def test_what_is_not_silent_is_never_drawn_as_silence(signal: np.ndarray, bin_frames: int) -> None:
    lows, highs = lows_and_highs(signal, bin_frames=bin_frames)
    assert lows.size == highs.size == -(-signal.size // bin_frames)
    for k in range(lows.size):
        stretch = signal[k * bin_frames : (k + 1) * bin_frames]
        assert (highs[k] > 0) == bool((stretch > 0).any()) or stretch.max() <= 0
        assert (lows[k] < 0) == bool((stretch < 0).any()) or stretch.min() >= 0


@given(st.integers(1, 40_000))
def test_each_resolution_is_the_extremes_of_the_finest(bins: int) -> None:
    rng = np.random.default_rng(bins)
    lows = rng.integers(-(2**15), 0, bins).astype(np.int16)
    highs = rng.integers(0, 2**15, bins).astype(np.int16)
    levels = pyramid(lows, highs)
    assert levels[-1][1].size <= MOST_AT_TOP
    assert all(level[1].size > MOST_AT_TOP for level in levels[:-1])
    for k, (frames, coarse_lows, coarse_highs) in enumerate(levels):
        assert frames == BASE_FRAMES * STEP**k
        starts = np.arange(0, bins, STEP**k)
        assert np.array_equal(coarse_lows, np.minimum.reduceat(lows, starts))
        assert np.array_equal(coarse_highs, np.maximum.reduceat(highs, starts))


def test_one_sample_at_the_end_is_a_stretch_of_its_own() -> None:
    signal = np.zeros(BASE_FRAMES + 1)
    signal[-1] = 0.5
    lows, highs = lows_and_highs(signal, bin_frames=BASE_FRAMES)
    assert (lows.tolist(), highs.tolist()) == ([0, 16_384], [0, 16_384])


def test_what_is_beyond_full_scale_or_no_number_is_drawn_and_never_wraps() -> None:
    signal = np.array([1.0, -1.0, 7.0, -7.0, np.inf, -np.inf, np.nan, 1e300, 2.0**-40])
    assert codes(signal).tolist() == [32767, -32768, 32767, -32768, 32767, -32768, 0, 32767, 0]
    lows, highs = lows_and_highs(signal, bin_frames=1)
    assert highs.tolist() == [32767, -32768, 32767, -32768, 32767, -32768, 0, 32767, 1]
    assert lows.tolist() == [32767, -32768, 32767, -32768, 32767, -32768, 0, 32767, 0]


@given(st.integers(-(2**31), 2**31 - 1))
def test_a_sample_goes_to_its_nearest_step(code: int) -> None:
    exact = Fraction(code, 2**31) * 2**15
    drawn = int(codes(np.array([code / 2**31]))[0])
    assert abs(min(exact, Fraction(32_767)) - drawn) <= Fraction(1, 2)
