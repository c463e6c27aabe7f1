"""How near the click's reading comes to the Cramér–Rao bound, through a plain path in white noise.

Goal: RMS error over bound at most 1.1 for a single click from 25 to 60 dB, 2,000 trials each (Kay 1993,
chapter 3). A ratio of 1 is then estimated with a standard deviation of 0.016. Also the time a reading
of eight channels takes.
"""

from __future__ import annotations

import time

import numpy as np
import report
from outside.test_click_bound import error_over_bound

from audio.measure.clicks import read_clicks
from audio.signals.click import click_train
from audio.vocab.results import ClickTrain

GOAL = 1.1
SECONDS_GOAL = 0.3
TRIALS = 2000
SHORT_TRIALS = 100


def main() -> None:
    """Print ratio and goal for each signal-to-noise, rate and number of clicks, then the time."""
    trials = SHORT_TRIALS if report.options(__doc__).parse_args().short else TRIALS
    report.conditions(f"click in white noise, {trials} trials each")
    for snr_db in (25.0, 30.0, 40.0, 50.0, 60.0):
        _ratio(rate=48_000, clicks=1, snr_db=snr_db, trials=trials, judged=True)
    for rate in (44_100, 96_000):
        _ratio(rate=rate, clicks=1, snr_db=30.0, trials=trials, judged=True)
    for snr_db in (12.0, 40.0):
        _ratio(rate=48_000, clicks=8, snr_db=snr_db, trials=trials, judged=False)
    _seconds()


def _ratio(*, rate: int, clicks: int, snr_db: float, trials: int, judged: bool) -> None:
    ratio = error_over_bound(rate=rate, clicks=clicks, snr_db=snr_db, trials=trials, seed=11)
    name = f"{clicks} click{'s' if clicks > 1 else ''}, {snr_db:.0f} dB, {rate} Hz"
    goal = f"at most {GOAL}" if judged else ""
    report.figure(name, f"{ratio:.3f} of the bound", goal, ratio <= GOAL if judged else None)


def _seconds() -> None:
    signal, train = click_train(rate=48_000, level_dbfs=-20.0, clicks=8)
    rng = np.random.default_rng(1)
    channels = [signal + rng.standard_normal(train.frames) * 1e-4 for _ in range(8)]
    read_clicks(channels[0], train)
    took = min(_reading(channels, train) for _ in range(5))
    goal = f"under {SECONDS_GOAL} s"
    report.figure(
        "reading 8 channels, 48000 Hz, best of 5", f"{took:.3f} s", goal, took < SECONDS_GOAL
    )


def _reading(channels: list[np.ndarray], train: ClickTrain) -> float:
    began = time.perf_counter()
    for channel in channels:
        read_clicks(channel, train)
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
