"""A click in white noise is found as exactly as anything can find it.

Source: Kay 1993, *Fundamentals of Statistical Signal Processing: Estimation Theory*, chapter 3: no
unbiased estimate of a delay has a variance under σ² / Σ s'(n)². Signal-to-noise is the click's peak over
the noise's RMS, full band. The benchmark `bench_click_bound` does the same with 2,000 trials each; the
315 here estimate a ratio of 1 with a standard deviation of 0.04: one over the root of twice as many.
"""

from __future__ import annotations

import numpy as np
import pytest

from audio.measure.clicks import read_clicks
from audio.signals.click import click_train, half_frames, pulse

TRIALS = 315
LEVEL_DBFS = -20.0


def error_over_bound(*, rate: int, clicks: int, snr_db: float, trials: int, seed: int) -> float:
    """Return the RMS error of the delay over the bound; a click that is not found is infinitely wrong."""
    rng = np.random.default_rng(seed)
    _, train = click_train(rate=rate, level_dbfs=LEVEL_DBFS, clicks=clicks)
    amplitude = 10 ** (LEVEL_DBFS / 20)
    sigma = amplitude * 10 ** (-snr_db / 20)
    half = half_frames(rate=rate)
    errors = np.empty(trials)
    for k in range(trials):
        delay = rng.uniform(200.0, 1200.0)
        back = rng.standard_normal(train.frames) * sigma
        for position, sign in zip(train.positions, train.signs, strict=True):
            centre = position + delay
            grid = np.arange(int(centre) - half, int(centre) + half + 2)
            back[grid] += sign * amplitude * pulse(grid - centre, rate=rate)
        found = read_clicks(back, train).delay_frames
        errors[k] = np.inf if found is None else found - delay
    return float(np.sqrt(np.mean(errors**2)) / bound_frames(rate, clicks, sigma / amplitude))


def bound_frames(rate: int, clicks: int, noise_over_peak: float) -> float:
    """Return the least standard deviation: σ over the root of the slope's energy, all clicks together."""
    half, step = half_frames(rate=rate), 1e-4
    grid = np.arange(-half, half + 1.0)
    slope = (pulse(grid + step, rate=rate) - pulse(grid - step, rate=rate)) / (2 * step)
    return noise_over_peak / float(np.sqrt(clicks * np.sum(slope**2)))


@pytest.mark.slow
@pytest.mark.parametrize(
    "snr_db", [40.0, *(pytest.param(snr, marks=pytest.mark.slow) for snr in (25.0, 60.0))]
)
def test_a_single_click_reaches_the_bound(snr_db: float) -> None:
    ratio = error_over_bound(rate=48_000, clicks=1, snr_db=snr_db, trials=TRIALS, seed=1)
    # under 0.88 the yardstick, over 1.12 the reading would be wrong: three standard deviations
    assert 0.88 < ratio < 1.12


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_a_single_click_reaches_the_bound_at_other_rates(rate: int) -> None:
    ratio = error_over_bound(rate=rate, clicks=1, snr_db=30.0, trials=TRIALS, seed=2)
    assert 0.88 < ratio < 1.12


@pytest.mark.slow
def test_a_train_of_eight_is_better_by_the_root_of_eight() -> None:
    ratio = error_over_bound(rate=48_000, clicks=8, snr_db=12.0, trials=TRIALS, seed=3)
    assert 0.88 < ratio < 1.12
