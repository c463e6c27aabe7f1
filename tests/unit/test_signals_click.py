"""The test click: what it is made of, and what it promises to whoever looks for it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.signals.click import LATEST_S, PULSE_S, click_train, half_frames, pulse
from audio.vocab.errors import UseError

RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)


def spectrum_db(rate: int) -> np.ndarray:
    """Level at each whole hertz, relative to 3 kHz."""
    half = half_frames(rate=rate)
    one = pulse(np.arange(-half, half + 1.0), rate=rate)
    power = np.abs(np.fft.rfft(one, rate)) ** 2
    return 10 * np.log10(power / power[3000] + 1e-15)


@pytest.mark.parametrize("rate", RATES)
def test_the_pulse_carries_no_direct_current_and_little_below_the_guitar(rate: int) -> None:
    half = half_frames(rate=rate)
    assert abs(np.sum(pulse(np.arange(-half, half + 1.0), rate=rate))) < 1e-12
    level = spectrum_db(rate)
    assert level[50] < -35
    assert level[80] > -30


@pytest.mark.parametrize("rate", RATES)
def test_the_pulse_spans_the_band_of_an_amp_and_ends_before_half_the_rate(rate: int) -> None:
    level = spectrum_db(rate)
    top = int(min(0.4 * rate, 18_000))
    assert np.min(level[400 : int(0.75 * top)]) > -5
    assert np.max(level[int(1.2 * top) : rate // 2]) < -45


@pytest.mark.parametrize("rate", RATES)
def test_the_pulse_lasts_three_milliseconds_at_most(rate: int) -> None:
    outside = np.array([-PULSE_S / 2 * rate, PULSE_S / 2 * rate, PULSE_S * rate])
    assert np.max(np.abs(pulse(outside, rate=rate))) < 1e-12
    assert PULSE_S <= 0.003


@given(shift=st.floats(-0.5, 0.5), rate=st.sampled_from(RATES))
def test_evaluating_between_frames_is_a_band_limited_shift(shift: float, rate: int) -> None:
    grid = np.arange(-512.0, 512.0)
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(grid.size) * shift)
    shifted = np.fft.irfft(np.fft.rfft(pulse(grid, rate=rate)) * turn, grid.size)
    assert np.max(np.abs(pulse(grid - shift, rate=rate) - shifted)) < 1e-3


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("level", [-40.0, -12.5, 0.0])
def test_every_click_peaks_exactly_at_the_level_asked_for_in_alternating_sign(
    rate: int, level: float
) -> None:
    signal, train = click_train(rate=rate, level_dbfs=level, clicks=8)
    at = signal[list(train.positions)]
    assert at == pytest.approx(np.array(train.signs) * 10 ** (level / 20), rel=1e-12)
    assert np.max(np.abs(signal)) == pytest.approx(10 ** (level / 20), rel=1e-12)
    assert [a * b for a, b in pairwise(train.signs)] == [-1] * 7


@pytest.mark.parametrize("rate", RATES)
def test_a_train_is_short_and_leaves_quiet_before_and_room_after(rate: int) -> None:
    for clicks, longest_s in ((2, 0.8), (8, 2.0)):
        signal, train = click_train(rate=rate, level_dbfs=-20, clicks=clicks)
        assert signal.shape == (train.frames,)
        assert train.frames <= longest_s * rate
        assert train.quiet_frames >= 0.25 * rate
        assert not np.any(signal[: train.quiet_frames])
        room = train.frames - train.positions[-1]
        assert room >= (LATEST_S + PULSE_S / 2) * rate


def test_no_two_distances_between_clicks_are_like_each_other() -> None:
    _, train = click_train(rate=48_000, level_dbfs=-20, clicks=8)
    at = np.array(train.positions)
    distances = np.sort(np.abs(np.subtract.outer(at, at))[np.triu_indices(8, 1)])
    assert np.min(np.diff(distances)) > PULSE_S * 48_000


@pytest.mark.parametrize(
    ("rate", "level", "clicks", "says"),
    [
        (22_050, -20.0, 8, "44100 to 192000, not 22050"),
        (384_000, -20.0, 8, "44100 to 192000, not 384000"),
        (48_000, 0.5, 8, "louder than full scale"),
        (48_000, float("nan"), 8, "louder than full scale"),
        (48_000, -20.0, 0, "1 to 8 clicks, not 0"),
        (48_000, -20.0, 9, "1 to 8 clicks, not 9"),
    ],
)
def test_a_train_that_makes_no_sense_is_refused_in_one_sentence(
    rate: int, level: float, clicks: int, says: str
) -> None:
    with pytest.raises(UseError, match=says):
        click_train(rate=rate, level_dbfs=level, clicks=clicks)
