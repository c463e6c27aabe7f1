"""Placing by the music: properties that must hold whatever the constants are."""

from __future__ import annotations

import numpy as np
import pytest
from needs import needs_samples
from playing import phrase

from audio.measure.music import RunningMusic

RATE = 48_000
pytestmark = needs_samples()


def placed(di: np.ndarray, recording: np.ndarray, *, piece: int = 9600):
    running = RunningMusic(rate=RATE)
    for at in range(0, len(di), piece):
        running.feed(di[at : at + piece], recording[at : at + piece])
    return running.alignment()


def delayed(di: np.ndarray, frames: int) -> np.ndarray:
    return np.concatenate((np.zeros(frames), di))[: len(di)]


@pytest.fixture(scope="module")
def di() -> np.ndarray:
    return phrase(rate=RATE, seconds=8.0, seed=41)


@pytest.mark.parametrize("frames", [0, 1, 299, 1200])
def test_a_delay_that_was_put_in_is_measured(di: np.ndarray, frames: int) -> None:
    found = placed(di, delayed(di, frames))
    assert found.delay_frames == pytest.approx(frames, abs=0.3)
    assert found.polarity == "normal"
