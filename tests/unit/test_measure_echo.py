"""The repeat of an echo, timed by the opening click; what is no echo is not taken for one."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from click_paths import Floats, heard

from audio.device.simulated.cabinet import random_cabinet
from audio.device.simulated.pedals.chain import Chain
from audio.measure.clicks import read_clicks
from audio.vocab.results import Echo

RATE = 48_000
DRIVE = {"kind": "drive", "drive_db": 24.0}


def told(*pedals: dict[str, Any], seed: int = 5, clicks: int = 8, rate: int = RATE) -> Echo | None:
    cabinet = random_cabinet(seed, "reflections", rate=rate)

    def through(sent: Floats) -> Floats:
        return np.asarray(Chain("", pedals, rate=rate).process(sent))

    back, train = heard(
        rate=rate, clicks=clicks, delay=700.0, response=cabinet, through=through, seed=seed
    )
    return read_clicks(0.5 * back / np.max(np.abs(back)), train).echo


@pytest.mark.parametrize("ms", [62.5, 125.0, 412.0, 469.0, 750.0, 1250.0, 1490.0])
@pytest.mark.parametrize("feedback", [0.0, 0.6])
def test_an_echo_is_timed_within_a_millisecond(ms: float, feedback: float) -> None:
    echo = told({"kind": "echo", "ms": ms, "feedback": feedback, "mix": 0.35}, DRIVE)
    assert echo is not None
    assert echo.repeat_ms == pytest.approx(ms, abs=1.0)
    assert abs(echo.repeat_ms - ms) <= echo.plus_minus_ms


def test_how_loud_the_first_repeat_is_follows_the_mix() -> None:
    levels = []
    for mix in (0.2, 0.4):
        echo = told({"kind": "echo", "ms": 300.0, "feedback": 0.2, "mix": mix})
        assert echo is not None
        levels.append(echo.level_db)
    assert levels[0] == pytest.approx(20 * np.log10(0.2), abs=0.5)
    assert levels[1] - levels[0] == pytest.approx(6.02, abs=0.5)  # twice the mix


def test_another_rate_tells_the_same_time() -> None:
    echo = told({"kind": "echo", "ms": 412.0, "feedback": 0.3, "mix": 0.4}, rate=96_000)
    assert echo is not None
    assert echo.repeat_ms == pytest.approx(412.0, abs=0.1)


@pytest.mark.parametrize(
    "pedal",
    [
        {"kind": "reverb", "decay_s": 3.0, "mix": 0.5},
        {"kind": "tremolo", "hz": 5.0, "depth": 0.8},
        {"kind": "chorus"},
        {"kind": "vibrato"},
        {"kind": "compressor"},
        DRIVE,
        {"kind": "echo", "ms": 20.0, "feedback": 0.0, "mix": 0.5},
    ],
    ids=lambda pedal: str(pedal["kind"]),
)
def test_what_repeats_nothing_is_no_echo(pedal: dict[str, Any]) -> None:
    assert told(DRIVE, pedal) is None


def test_a_train_of_two_clicks_tells_nothing_of_echoes() -> None:
    assert told({"kind": "echo", "ms": 300.0, "feedback": 0.2, "mix": 0.5}, clicks=2) is None


def test_an_echo_that_wobbles_as_tape_does_is_not_given_one_time() -> None:
    def through(sent: Floats) -> Floats:
        frames = np.arange(sent.size)
        back = 0.412 * RATE + 0.003 * RATE * np.sin(2 * np.pi * 1.7 * frames / RATE)
        return np.asarray(sent + 0.5 * np.interp(frames - back, frames, sent, left=0.0))

    sound, train = heard(
        rate=RATE,
        clicks=8,
        delay=700.0,
        response=random_cabinet(5, "reflections", rate=RATE),
        through=through,
    )
    assert read_clicks(0.5 * sound / np.max(np.abs(sound)), train).echo is None
