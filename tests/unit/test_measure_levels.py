"""Levels and the lines of the mains."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.measure.levels import mains, peak_dbfs, rms_dbfs, window_levels_dbfs


def sine(hz: float, *, rms: float, rate: int, seconds: float, phase: float = 0.0) -> np.ndarray:
    time = np.arange(round(seconds * rate)) / rate
    return np.sqrt(2) * rms * np.sin(2 * np.pi * hz * time + phase)


def test_a_full_scale_sine_reads_minus_three() -> None:
    tone = sine(1000, rms=2**-0.5, rate=48_000, seconds=1)
    assert rms_dbfs(tone) == pytest.approx(-3.01, abs=0.01)
    assert peak_dbfs(tone) == pytest.approx(0.0, abs=0.01)


def test_silence_and_nothing_at_all_read_the_floor() -> None:
    for nothing in (np.zeros(10), np.zeros(0)):
        assert peak_dbfs(nothing) == rms_dbfs(nothing) == -200.0


def test_each_whole_window_has_its_level_and_the_rest_none() -> None:
    signal = np.concatenate((np.full(100, 0.1), np.full(100, 0.01), np.full(99, 1.0)))
    assert window_levels_dbfs(signal, window=100) == pytest.approx((-20.0, -40.0))


@given(
    hz=st.sampled_from((50, 60)),
    off=st.floats(-0.2, 0.2),
    phase=st.floats(0, 6.28),
    rate=st.sampled_from((44_100, 48_000, 96_000, 192_000)),
)
def test_hum_of_either_country_is_told_with_its_level(
    hz: int, off: float, phase: float, rate: int
) -> None:
    lines = sum(
        sine((hz + off) * k, rms=0.001 / k, rate=rate, seconds=0.25, phase=phase * k)
        for k in (1, 2, 3)
    )
    noise = np.random.default_rng(1).standard_normal(lines.size) * 1e-4
    found = mains(lines + noise, rate=rate)
    assert found is not None
    assert found.hz == hz
    assert found.dbfs == pytest.approx(20 * np.log10(0.001 * (1 + 1 / 4 + 1 / 9) ** 0.5), abs=0.6)


def test_noise_alone_is_called_hum_no_more_often_than_the_threshold_says() -> None:
    rng = np.random.default_rng(3)
    # two frequencies, each passes by chance less than once in 500 times: more than 8 of 600 is a fault
    called = sum(mains(rng.standard_normal(12_000), rate=48_000) is not None for _ in range(600))
    assert called <= 8


def test_a_low_string_is_no_hum() -> None:
    # E2 of a guitar, 82.4 Hz in equal temperament
    assert mains(sine(82.4, rms=0.1, rate=48_000, seconds=0.25), rate=48_000) is None


def test_a_stretch_too_short_to_tell_fifty_from_sixty_says_nothing() -> None:
    assert mains(sine(50, rms=0.1, rate=48_000, seconds=0.1), rate=48_000) is None
