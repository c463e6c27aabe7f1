"""Two microphones: their polarity by sum against difference, their delay taken out."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from playing import phrase
from scipy.signal import butter, lfilter, sosfilt

from audio.measure.shared import RunningShared, Shared
from audio.measure.together import UNSURE_DB, delay_frames, together
from audio.vocab.alignment import Together

RATE = 48_000

pytestmark = needs_samples()


@lru_cache(maxsize=1)
def close() -> np.ndarray:
    """A driven amp through a loudspeaker of our own making."""
    music = phrase(rate=RATE, seconds=6.0, seed=21)
    driven = np.tanh(6.0 * music / np.max(np.abs(music)))
    return 0.3 * lfilter(*butter(2, [90.0, 4500.0], "band", fs=RATE), driven)


def room(*, late: int, gain: float = 0.1) -> np.ndarray:
    """The same amp from further away: later, duller, with a floor bounce."""
    dull = lfilter(*butter(1, 2500.0, fs=RATE), close())
    moved = np.roll(dull, late)
    moved[:late] = 0.0
    return gain * (moved + 0.4 * np.roll(moved, 170))


def shared(first: np.ndarray, second: np.ndarray, *, cuts: tuple[int, ...] = ()) -> Shared | None:
    running = RunningShared(others=1, rate=RATE)
    for one, other in zip(np.split(first, cuts), np.split(second, cuts), strict=True):
        running.feed(one, [other])
    return running.shared(0)


def told(first: np.ndarray, second: np.ndarray) -> Together:
    return together(shared(first, second), rate=RATE)


def noisy(sound: np.ndarray, *, level: float = 1e-4) -> np.ndarray:
    return sound + level * np.random.default_rng(3).standard_normal(sound.size)


@pytest.mark.parametrize("late", [0, 36, 420, 1800])
def test_polarity_is_told_once_the_delay_is_out(late: int) -> None:
    normal, inverted = told(close(), noisy(room(late=late))), told(close(), noisy(-room(late=late)))
    assert (normal.polarity, inverted.polarity) == ("normal", "inverted")
    assert normal.sum_over_difference_db is not None
    assert inverted.sum_over_difference_db == pytest.approx(-normal.sum_over_difference_db, abs=0.1)


def test_the_figure_is_that_of_adding_and_subtracting_the_two_by_hand() -> None:
    """Referee: filter both to 80–400 Hz, match their levels, add and subtract, and compare the powers."""
    late = 420
    second = room(late=late)
    low = butter(6, [80.0, 400.0], "band", fs=RATE, output="sos")
    one = sosfilt(low, close())[: -late or None]
    other = sosfilt(low, np.roll(second, -late))[: -late or None]
    other *= np.sqrt(np.sum(one**2) / np.sum(other**2))
    by_hand = 10 * np.log10(np.sum((one + other) ** 2) / np.sum((one - other) ** 2))
    got = told(close(), second).sum_over_difference_db
    assert got == pytest.approx(by_hand, abs=1.5)


@settings(max_examples=8, deadline=None)
@given(db=st.floats(-40.0, 20.0))
def test_the_level_of_a_microphone_changes_nothing(db: float) -> None:
    one, other = told(close(), room(late=50)), told(close(), room(late=50) * 10 ** (db / 20))
    assert other.sum_over_difference_db == pytest.approx(one.sum_over_difference_db, abs=0.01)


def test_two_sounds_with_nothing_in_common_are_unsure() -> None:
    for seed in range(5):
        noise = 0.01 * np.random.default_rng(seed).standard_normal(close().size)
        got = told(close(), noise)
        assert got.polarity == "unsure"
        assert got.sum_over_difference_db is not None
        assert abs(got.sum_over_difference_db) < UNSURE_DB


def test_silence_is_unsure_and_has_no_figure() -> None:
    nothing = np.zeros(close().size)
    for first, second in ((close(), nothing), (nothing, close())):
        got = told(first, second)
        assert (got.polarity, got.sum_over_difference_db) == ("unsure", None)


@pytest.mark.parametrize("late", [0, 7, 480, 1900])
def test_the_delay_that_is_taken_out_is_the_planted_one(late: int) -> None:
    measured = shared(close(), noisy(-room(late=late)))
    assert measured is not None
    # the duller path turns phases by a few frames of its own
    assert delay_frames(measured, rate=RATE) == pytest.approx(late, abs=6)


@settings(max_examples=8, deadline=None)
@given(data=st.data())
def test_how_the_sound_was_cut_does_not_show(data: st.DataObject) -> None:
    cuts = tuple(sorted(data.draw(st.lists(st.integers(0, close().size), max_size=12))))
    whole, cut = (shared(close(), room(late=9), cuts=c) for c in ((), cuts))
    assert whole is not None
    assert cut is not None
    assert np.array_equal(whole.cross, cut.cross)
    assert np.array_equal(whole.noise, cut.noise)
