"""What comes back of a cycle that goes round, at known gains, delays, noises and losses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from playing import phrase
from scipy import signal

from audio.measure.copy_back import copy_back
from audio.measure.loudest import loudest_at
from audio.measure.tracking import RunningTrack

RATE = 48_000
CYCLE = 2 * RATE

pytestmark = needs_samples()


def cycle(seed: int = 7) -> np.ndarray:
    """Two seconds of playing, faded at both ends as what goes round is."""
    made = phrase(rate=RATE, seconds=3.0, seed=seed)[RATE // 2 : RATE // 2 + CYCLE].copy()
    fade = np.sin(np.linspace(0.0, np.pi / 2, RATE // 100))
    made[: fade.size] *= fade
    made[-fade.size :] *= fade[::-1]
    return made


SENT = cycle()


def noise(level_dbfs: float, *, seed: int) -> np.ndarray:
    return 10 ** (level_dbfs / 20) * np.random.default_rng(seed).standard_normal(CYCLE)


def hum(hz: float, level_dbfs: float) -> np.ndarray:
    at = np.arange(CYCLE) / RATE
    lines = sum(np.sin(2 * np.pi * hz * k * at + k) / k for k in range(1, 11))
    return 10 ** (level_dbfs / 20) * lines / np.sqrt(np.mean(lines**2))


@settings(max_examples=30, deadline=None)
@given(
    gain=st.floats(-30.0, 12.0),
    delay=st.integers(0, RATE // 4),
    inverted=st.booleans(),
    noise_dbfs=st.floats(-120.0, -66.0),
    seed=st.integers(0, 3999),
)
def test_a_gain_gives_that_difference_in_noise_and_hum(
    gain: float, delay: int, inverted: bool, noise_dbfs: float, seed: int
) -> None:
    factor = 10 ** (gain / 20) * (-1.0 if inverted else 1.0)
    # Noise lies as far under the copy whatever its gain.
    back = factor * np.roll(SENT, delay) + noise(noise_dbfs + gain, seed=seed)
    back += hum((50.0, 60.0)[seed % 2], -50.0 + gain)
    found = copy_back(SENT, back, rate=RATE)
    assert found.reason is None
    assert found.gain_db == pytest.approx(gain, abs=0.02)
    assert found.delay_frames == delay
    assert found.polarity == ("inverted" if inverted else "normal")


def test_the_interval_holds_in_nineteen_of_twenty() -> None:
    inside = 0
    for seed in range(200):
        found = copy_back(SENT, np.roll(SENT, 300) + noise(-34.0, seed=seed), rate=RATE)
        assert found.gain_db is not None
        assert found.plus_minus_db is not None
        inside += abs(found.gain_db) <= found.plus_minus_db
    assert 0.90 <= inside / 200 <= 0.99  # binomial: 190 ± 2.5 times 3.1


@pytest.mark.parametrize("late", [0.25, 0.5, 0.75])
def test_a_fraction_of_a_frame_and_a_transformer_do_not_move_the_level(late: float) -> None:
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(CYCLE) * (200 + late))
    hz = np.fft.rfftfreq(CYCLE, 1 / RATE)
    # First-order corners of a transformer, 15 Hz and 40 kHz, as RC sections have them.
    box = (1j * hz / (1j * hz + 15.0)) / (1.0 + 1j * hz / 40_000.0)
    back = np.fft.irfft(np.fft.rfft(SENT) * turn * box, CYCLE)
    found = copy_back(SENT, back, rate=RATE)
    assert found.gain_db == pytest.approx(0.0, abs=0.03)
    assert found.polarity == "normal"
    assert found.highs_db == pytest.approx(-0.15, abs=0.1)


def test_lost_highs_are_told_by_thirds() -> None:
    back = signal.sosfilt(signal.butter(1, 4000.0, fs=RATE, output="sos"), np.tile(SENT, 2))[CYCLE:]
    found = copy_back(SENT, back, rate=RATE)
    hz = np.array([5612.0, 7071.0, 8909.0])
    middle = np.geomspace(200.0, 2000.0, 21)[1::2]
    loss = [float(np.mean(-10 * np.log10(1 + (f / 4000.0) ** 2))) for f in (hz, middle)]
    assert found.highs_db == pytest.approx(loss[0] - loss[1], abs=0.7)


def test_highs_under_the_noise_are_not_told() -> None:
    found = copy_back(SENT, SENT + noise(-40.0, seed=1), rate=RATE)
    assert found.gain_db == pytest.approx(0.0, abs=0.05)
    assert found.highs_db is None


def test_noise_and_hum_are_told_before_anything_sounds() -> None:
    quiet = (noise(-80.0, seed=2) + hum(60.0, -60.0))[: RATE // 2]
    found = copy_back(SENT, SENT, rate=RATE, quiet=quiet)
    assert found.noise_dbfs == pytest.approx(-60.0, abs=0.5)
    assert found.hum_hz == 60
    assert found.hum_dbfs == pytest.approx(-60.0, abs=0.5)


@pytest.mark.parametrize("seed", range(40))
def test_noise_alone_is_no_copy(seed: int) -> None:
    assert copy_back(SENT, noise(-30.0, seed=seed), rate=RATE).reason == "nothing"


@pytest.mark.parametrize("seed", range(8))
def test_other_playing_is_no_copy(seed: int) -> None:
    other = cycle(seed=100 + seed)[::-1].copy()  # backwards: the phrases share recordings
    assert copy_back(SENT, other, rate=RATE).reason == "nothing"


def test_what_cannot_be_told_says_why() -> None:
    assert copy_back(SENT, np.zeros(CYCLE), rate=RATE).reason == "digital silence"
    assert copy_back(np.zeros(CYCLE), SENT, rate=RATE).reason == "nothing sent"
    with pytest.raises(ValueError, match="one cycle of both"):
        copy_back(SENT, SENT[1:], rate=RATE)


@pytest.mark.slow
def test_a_pass_reads_the_same_gain_off_its_witness() -> None:
    gain, played = 2.3, phrase(rate=RATE, seconds=4.0, seed=9)
    back = np.roll(played, 100) * 10 ** (gain / 20)
    back += 1e-4 * np.random.default_rng(3).standard_normal(back.size)
    track = RunningTrack(rate=RATE)
    track.feed(played, back)
    ours = copy_back(SENT, np.roll(SENT, 100) * 10 ** (gain / 20), rate=RATE)
    theirs = track.alignment().gain_db
    assert theirs == pytest.approx(ours.gain_db, abs=0.05)


# ------------------------------------------------------------------ the loudest stretch


@given(
    st.lists(st.floats(-90.0, 0.0), min_size=1, max_size=60),
    st.integers(1, 20),
)
def test_no_stretch_is_louder_than_the_loudest(levels: list[float], windows: int) -> None:
    at, rms = loudest_at(levels, windows=windows)
    powers = 10 ** (np.array(levels) / 10)
    length = min(windows, len(levels))
    every = [powers[i : i + length].mean() for i in range(len(levels) - length + 1)]
    assert 10 ** (rms / 10) == pytest.approx(max(every), rel=1e-6)
    assert every[at] == pytest.approx(max(every), rel=1e-6)


def test_the_earliest_of_those_alike_is_taken() -> None:
    assert loudest_at([-20.0] * 10, windows=4) == (0, pytest.approx(-20.0))
