"""Reading a click train: properties that hold for any path, and what each mishap is called."""

from __future__ import annotations

import numpy as np
import pytest
from click_paths import Floats, delayed, heard, noise
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from playing import phrase
from scipy import stats

from audio.measure import clicks as reading
from audio.measure.clicks import read_clicks
from audio.signals.click import click_train
from audio.vocab.errors import UseError

RATES = st.sampled_from((44_100, 48_000, 96_000))
DELAYS = st.floats(0.0, 11_000.0)
SEEDS = st.integers(0, 2**32 - 1)
few = settings(max_examples=25)


# ------------------------------------------------------------------ properties


@few
@given(rate=RATES, delay=DELAYS, seed=SEEDS, clicks=st.sampled_from((2, 8)))
def test_delay_then_read_returns_the_delay(rate: int, delay: float, seed: int, clicks: int) -> None:
    back, train = heard(rate=rate, clicks=clicks, delay=delay, seed=seed)
    read = read_clicks(back, train)
    assert read.delay_frames == pytest.approx(delay, abs=0.02)
    assert read.polarity == "normal"
    assert read.reason is None
    assert len(read.arrivals) == clicks


@pytest.mark.slow
@few
@given(rate=RATES, delay=DELAYS, seed=SEEDS)
def test_flipping_flips_the_polarity_and_nothing_else(rate: int, delay: float, seed: int) -> None:
    back, train = heard(rate=rate, clicks=4, delay=delay, seed=seed)
    one, other = read_clicks(back, train), read_clicks(-back, train)
    assert (one.polarity, other.polarity) == ("normal", "inverted")
    assert other.delay_frames == pytest.approx(one.delay_frames, abs=1e-6)
    assert other.snr_db == pytest.approx(one.snr_db, abs=1e-6)
    assert other.plus_minus_frames == pytest.approx(one.plus_minus_frames, rel=1e-6)


@pytest.mark.slow
@few
@given(gain_db=st.floats(-60.0, 15.0), delay=DELAYS, seed=SEEDS)
def test_gain_changes_levels_by_its_decibels_and_nothing_else(
    gain_db: float, delay: float, seed: int
) -> None:
    back, train = heard(rate=48_000, clicks=4, delay=delay, seed=seed)
    one, other = read_clicks(back, train), read_clicks(back * 10 ** (gain_db / 20), train)
    assert other.delay_frames == pytest.approx(one.delay_frames, abs=1e-6)
    assert other.snr_db == pytest.approx(one.snr_db, abs=1e-6)
    assert other.polarity == one.polarity
    assert other.noise_dbfs - one.noise_dbfs == pytest.approx(gain_db, abs=1e-6)
    assert other.peak_dbfs - one.peak_dbfs == pytest.approx(gain_db, abs=1e-6)


@pytest.mark.slow
@few
@given(seed=SEEDS, louder_db=st.floats(12.0, 30.0))
def test_more_noise_widens_plus_minus(seed: int, louder_db: float) -> None:
    quiet, train = heard(rate=48_000, clicks=8, delay=431.7, seed=seed)
    loud, _ = heard(rate=48_000, clicks=8, delay=431.7, seed=seed, noise_dbfs=-80.0 + louder_db)
    narrow, wide = (read_clicks(b, train).plus_minus_frames for b in (quiet, loud))
    assert narrow is not None
    assert wide is not None
    assert wide > 1.5 * narrow


@pytest.mark.slow
@pytest.mark.parametrize("snr_db", [10.0, 30.0, 60.0])
def test_plus_minus_holds_the_truth_as_often_as_it_says(snr_db: float) -> None:
    inside = 0
    for seed in range(100):
        delay = 500 + np.random.default_rng([seed, 7]).uniform(0, 100)
        back, train = heard(
            rate=48_000, clicks=8, delay=delay, seed=seed, noise_dbfs=-20.0 - snr_db
        )
        read = read_clicks(back, train)
        assert read.delay_frames is not None
        assert read.plus_minus_frames is not None
        inside += abs(read.delay_frames - delay) <= read.plus_minus_frames
    # 95 % of 100: a binomial variate falls under 87 less than once in a thousand
    assert inside >= 87


@pytest.mark.parametrize("snr_db", [10.0, 25.0, 50.0])
def test_snr_is_click_peak_over_noise_rms_full_band(snr_db: float) -> None:
    back, train = heard(rate=48_000, clicks=8, delay=300.5, noise_dbfs=-20.0 - snr_db)
    assert read_clicks(back, train).snr_db == pytest.approx(snr_db, abs=1.0)


# ------------------------------------------------------------------ paths that mislead


def test_crosstalk_before_the_air_is_not_the_answer() -> None:
    back, train = heard(rate=48_000, clicks=8, delay=700.25)
    early, _ = heard(rate=48_000, clicks=8, delay=262.0, gain=0.1, noise_dbfs=None)
    assert read_clicks(back + early, train).delay_frames == pytest.approx(700.25, abs=0.05)


def test_a_floor_bounce_louder_than_the_direct_sound_is_not_the_answer() -> None:
    back, train = heard(rate=48_000, clicks=8, delay=700.25)
    bounce, _ = heard(rate=48_000, clicks=8, delay=895.0, gain=1.6, noise_dbfs=None)
    read = read_clicks(back + bounce, train)
    assert read.delay_frames == pytest.approx(700.25, abs=0.1)
    assert read.polarity == "normal"
    assert read.repeats_frames is None


@pytest.mark.parametrize("distance_s", [0.060, 0.3, 0.45])
def test_an_echo_of_like_strength_is_told_with_its_distance(distance_s: float) -> None:
    back, train = heard(rate=48_000, clicks=8, delay=400.0)
    echo, _ = heard(
        rate=48_000, clicks=8, delay=400.0 + distance_s * 48_000, gain=0.7, noise_dbfs=None
    )
    read = read_clicks(back + echo, train)
    assert read.repeats_frames == pytest.approx(distance_s * 48_000, abs=1.0)
    assert read.delay_frames == pytest.approx(400.0, abs=0.1)


def test_a_return_fed_back_to_the_send_repeats_at_its_own_delay() -> None:
    signal, train = click_train(rate=48_000, level_dbfs=-20, clicks=8)
    back = sum((0.6**k * delayed(signal, 523.0 * k) for k in range(1, 12)), np.zeros(signal.size))
    read = read_clicks(back + noise(back.size, dbfs=-80, seed=3), train)
    assert read.delay_frames == pytest.approx(523.0, abs=0.1)
    assert read.repeats_frames == pytest.approx(523.0, abs=1.0)


@pytest.mark.parametrize("clicks", [2, 8])
def test_a_plain_path_repeats_nothing(clicks: int) -> None:
    back, train = heard(rate=48_000, clicks=clicks, delay=400.0)
    assert read_clicks(back, train).repeats_frames is None


def asymmetric(signal: Floats) -> Floats:
    """Saturate the positive side three times as early as the negative one."""
    return np.where(signal > 0, np.tanh(signal * 30) / 30, np.tanh(signal * 10) / 10)


@pytest.mark.parametrize("gain", [1.0, -1.0])
def test_an_asymmetric_saturator_moves_neither_delay_nor_polarity(gain: float) -> None:
    back, train = heard(
        rate=48_000, clicks=8, delay=812.3, gain=gain, through=asymmetric, noise_dbfs=-90
    )
    read = read_clicks(back, train)
    assert read.plus_minus_frames is not None
    assert read.delay_frames == pytest.approx(812.3, abs=min(0.6, read.plus_minus_frames))
    assert read.polarity == ("normal" if gain > 0 else "inverted")


@pytest.mark.parametrize("clicks", [2, 8])
def test_a_rectifier_is_found_but_its_polarity_is_unsure(clicks: int) -> None:
    back, train = heard(rate=48_000, clicks=clicks, delay=812.3, through=np.abs)
    read = read_clicks(back, train)
    assert read.delay_frames == pytest.approx(812.3, abs=0.6)
    assert read.polarity == "unsure"


def test_a_path_that_turns_every_phase_by_a_quarter_leaves_polarity_unsure() -> None:
    back, train = heard(rate=48_000, clicks=8, delay=700.0, noise_dbfs=None)
    turned = np.fft.irfft(-1j * np.fft.rfft(back), back.size)
    read = read_clicks(turned + noise(back.size, dbfs=-80, seed=2), train)
    assert read.polarity == "unsure"


def test_one_click_that_a_gate_ate_is_missing_from_the_arrivals_only() -> None:
    back, train = heard(rate=48_000, clicks=8, delay=600.0)
    first = train.positions[0] + 600
    back[first - 100 : first + 100] = noise(200, dbfs=-80, seed=5)
    read = read_clicks(back, train)
    assert read.arrivals[0] is None
    assert None not in read.arrivals[1:]
    assert read.delay_frames == pytest.approx(600.0, abs=0.05)


def test_clicks_that_move_apart_widen_plus_minus_and_spread() -> None:
    steady, train = heard(rate=48_000, clicks=8, delay=600.0)
    moved = steady.copy()
    for k, position in enumerate(train.positions):
        near = slice(position + 400, position + 800)
        moved[near] = delayed(steady, 1.5 * (-1) ** (k // 2))[near]
    calm, restless = read_clicks(steady, train), read_clicks(moved, train)
    assert calm.spread_frames is not None
    assert calm.spread_frames < 0.02
    assert restless.spread_frames == pytest.approx(1.6, abs=0.2)
    assert restless.plus_minus_frames is not None
    assert restless.plus_minus_frames > 1.0


# ------------------------------------------------------------------ what each mishap is called


def test_digital_silence_is_called_so() -> None:
    _, train = click_train(rate=48_000, level_dbfs=-20, clicks=2)
    read = read_clicks(np.zeros(train.frames), train)
    assert (read.reason, read.delay_frames, read.noise_dbfs) == ("digital silence", None, -200.0)


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_noise_alone_is_nothing_in_hundreds_of_trials(rate: int) -> None:
    _, train = click_train(rate=rate, level_dbfs=-20, clicks=8)
    for seed in range(100):
        read = read_clicks(noise(train.frames, dbfs=-60, seed=seed), train)
        assert (read.reason, read.delay_frames) == ("nothing", None)


def test_a_click_far_under_the_noise_is_nothing() -> None:
    back, train = heard(rate=48_000, clicks=8, delay=500.0, level_dbfs=-70, noise_dbfs=-45)
    assert read_clicks(back, train).reason == "nothing"


def hum(frames: int, *, hz: float, dbfs: float, rate: int) -> Floats:
    """A mains line and its falling harmonics; the level is that of all together."""
    time = np.arange(frames) / rate
    parts = sum(np.sin(2 * np.pi * hz * k * time + k) / k for k in range(1, 7))
    return np.asarray(parts / np.sqrt(np.mean(parts**2)) * 10 ** (dbfs / 20))


@pytest.mark.parametrize("hz", [50, 60])
def test_hum_over_everything_is_only_hum(hz: int) -> None:
    _, train = click_train(rate=48_000, level_dbfs=-20, clicks=8)
    alone = hum(train.frames, hz=hz, dbfs=-30, rate=48_000)
    read = read_clicks(alone + noise(train.frames, dbfs=-70, seed=1), train)
    assert (read.reason, read.hum_hz) == ("only hum", hz)
    assert read.hum_dbfs == pytest.approx(-30, abs=0.5)


@pytest.mark.parametrize("hz", [49.95, 60.05])
def test_a_click_is_found_through_hum_as_loud_as_itself(hz: float) -> None:
    back, train = heard(rate=48_000, clicks=8, delay=512.6, level_dbfs=-30)
    read = read_clicks(back + hum(back.size, hz=hz, dbfs=-30, rate=48_000), train)
    assert read.delay_frames == pytest.approx(512.6, abs=0.1)
    assert read.hum_hz == round(hz / 10) * 10


def test_a_converter_at_full_scale_is_clipped() -> None:
    back, train = heard(rate=48_000, clicks=2, delay=500.0, level_dbfs=-3, gain=4.0)
    assert read_clicks(np.clip(back, -1.0, 1.0 - 2.0**-23), train).reason == "clipped"


def test_clicks_that_contradict_each_other_are_unclear() -> None:
    signal, train = click_train(rate=48_000, level_dbfs=-20, clicks=8)
    back = noise(train.frames, dbfs=-80, seed=4)
    half = 100
    for k, position in enumerate(train.positions):
        at = position + 500 + (0, 35, -38, 22, -17, 44, 9, -28)[k]
        back[at - half : at + half] += signal[position - half : position + half]
    assert read_clicks(back, train).reason == "unclear"


@needs_samples()
@pytest.mark.parametrize(
    "seeds",
    [range(5), pytest.param(range(5, 20), marks=pytest.mark.slow)],
    ids=["a few phrases", "many phrases"],
)
def test_playing_without_a_click_in_it_gives_no_delay(seeds: range) -> None:
    _, train = click_train(rate=48_000, level_dbfs=-20, clicks=8)
    for seed in seeds:
        music = phrase(rate=48_000, seconds=train.frames / 48_000 + 0.5, seed=seed)
        music[: train.quiet_frames] = 0.0
        read = read_clicks(music + noise(music.size, dbfs=-80, seed=seed), train)
        assert read.delay_frames is None
        assert read.reason in {"nothing", "unclear"}


def test_a_recording_shorter_than_its_train_is_refused() -> None:
    _, train = click_train(rate=48_000, level_dbfs=-20, clicks=2)
    with pytest.raises(UseError, match="let the roll run to its end"):
        read_clicks(np.zeros(train.frames - 1), train)


def test_the_tables_of_student_and_chi_square_are_scipys() -> None:
    for freedom in range(1, 8):
        assert reading._STUDENT[freedom - 1] == pytest.approx(stats.t.ppf(0.975, freedom), abs=6e-4)
        assert reading._CHI_SQUARE[freedom - 1] == pytest.approx(
            stats.chi2.ppf(0.95, freedom) / freedom, abs=6e-4
        )
