"""Joints: the level holds through a fade whatever the two recordings have in common, and nothing clicks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.measure.joints import apart, best_joint, correlation_at, gains, level_db_at

RATE = 48_000
FADE = 720


def joined(one: np.ndarray, other: np.ndarray, at: int) -> np.ndarray:
    goes, comes = gains(correlation_at(one, other, at, fade=FADE), FADE)
    out = np.concatenate((one[:at], other[at:]))
    rows = slice(at - FADE // 2, at - FADE // 2 + FADE)
    out[rows] = goes * one[rows] + comes * other[rows]
    return out


def level_db(sound: np.ndarray) -> float:
    return 10.0 * float(np.log10(np.mean(sound**2)))


def tone(hz: float, phase: float = 0.0) -> np.ndarray:
    return np.sin(2.0 * np.pi * hz * np.arange(RATE) / RATE + phase)


@given(correlation=st.floats(-0.5, 1.0))
def test_the_power_of_the_sum_is_one_all_through_the_fade(correlation: float) -> None:
    goes, comes = gains(correlation, FADE)
    power = goes**2 + comes**2 + 2.0 * correlation * goes * comes
    assert power == pytest.approx(1.0, abs=1e-12)
    assert max(goes.max(), comes.max()) <= 2.0 / 3.0**0.5 + 1e-9
    assert goes[0] == pytest.approx(1.0, abs=0.01)
    assert comes[0] == pytest.approx(0.0, abs=0.01)
    np.testing.assert_allclose(goes, comes[::-1])


@pytest.mark.parametrize("hz", [82.41, 110.0, 440.0, 3000.0])
@pytest.mark.parametrize("phase", [0.0, 0.5, 1.2, np.pi / 2, 2.0])
def test_a_tone_keeps_its_level_through_the_joint_within_a_tenth_of_a_db(
    hz: float, phase: float
) -> None:
    """Referee: a quadrature pair faded alike; its two squares add up to the amplitude at each sample."""
    one, other = tone(hz), tone(hz, phase)
    middle = RATE // 2
    goes, comes = gains(correlation_at(one, other, middle, fade=FADE), FADE)
    rows = slice(middle - FADE // 2, middle - FADE // 2 + FADE)
    turned = (tone(hz, np.pi / 2), tone(hz, phase + np.pi / 2))
    amplitude = np.hypot(
        goes * one[rows] + comes * other[rows], goes * turned[0][rows] + comes * turned[1][rows]
    )
    assert np.abs(20.0 * np.log10(amplitude)).max() < 0.1


def test_noise_that_has_nothing_in_common_and_noise_that_is_one_keep_their_level() -> None:
    rng = np.random.default_rng(5)
    one, goes_on = rng.standard_normal((2, 200, RATE // 10))
    for other in (goes_on, one):
        at = one.shape[1] // 2
        power = np.zeros(FADE)
        for x, y in zip(one, other, strict=True):
            power += joined(x, y, at)[at - FADE // 2 : at + FADE // 2] ** 2
        middle = power.reshape(6, -1).mean(axis=1) / one.shape[0]
        assert np.abs(10.0 * np.log10(middle)).max() < 0.25  # 24 000 samples a sixth: 0.04 dB each


def test_one_recording_joined_with_itself_is_itself() -> None:
    one = np.random.default_rng(6).standard_normal(RATE)
    np.testing.assert_allclose(joined(one, one, RATE // 2), one, atol=1e-12)


def test_nothing_steps_at_a_joint() -> None:
    """Bound: the product rule, for sines whose gains are half cosines over the fade."""
    hz = 200.0
    out = joined(tone(hz), 0.8 * tone(hz, 2.0), RATE // 2)
    bend = np.abs(np.diff(out, 2))
    own = (2.0 * np.pi * hz / RATE) ** 2
    assert bend.max() < own + 2.0 * own**0.5 * 4.0 / FADE + 16.0 / FADE**2


def test_a_rest_ahead_of_an_attack_is_chosen() -> None:
    rng = np.random.default_rng(7)
    one, other = rng.standard_normal((2, RATE)) * 0.1
    for sound in (one, other):
        sound[20_000:24_000] *= 0.001
    at = best_joint([one], [other], border=26_000, fade=FADE, rate=RATE)
    assert 20_000 + FADE // 2 <= at <= 24_000 - FADE // 2
    assert at > 22_000  # the attack behind it hides it


def test_where_all_places_are_alike_the_border_is_the_joint() -> None:
    one = tone(100.0)
    assert best_joint([one], [one], border=30_123, fade=FADE, rate=RATE) == pytest.approx(
        30_123, abs=RATE // 100
    )


def test_recordings_tell_how_far_they_lie_apart_to_a_fraction() -> None:
    noise = np.random.default_rng(8).standard_normal(RATE)
    smooth = np.convolve(noise, np.hanning(32), "same")
    assert apart(smooth, np.roll(smooth, 7), rate=RATE) == pytest.approx(7.0, abs=0.1)
    assert apart(smooth, np.random.default_rng(9).standard_normal(RATE), rate=RATE) is None
    assert apart(smooth, np.zeros(RATE), rate=RATE) is None


def test_levels_are_compared_around_the_joint() -> None:
    one = tone(100.0)
    assert level_db_at(one, 0.5 * one, RATE // 2, around=4800) == pytest.approx(-6.02, abs=0.01)
