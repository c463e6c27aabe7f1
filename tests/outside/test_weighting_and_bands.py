"""A-weighting and third octaves: the standards' own tables and limits, and a general library as referee.

Values of IEC 61672-1:2013, table 3, and of IEC 61260-1:2014, table 1, are from memory. Referees:
PyOctaveBand, whose filters work in time where ours weigh power over frequency, and scipy's response of an
analogue filter.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyoctaveband import OctaveFilterBank, weighting_filter
from scipy import signal

from audio.measure.levels import rms_dbfs
from audio.measure.spectrum import even, power_by_hz
from audio.measure.thirds import NOMINAL_HZ, edges_hz, exact_hz, third_levels
from audio.measure.weighting import a_weighted_dbfs, a_weighting

RATES = [44_100, 48_000, 88_200, 96_000, 192_000]
NONE = math.inf
A_TABLE = {
    # nominal Hz: A-weighting dB, class 1 upper and lower limit dB
    10: (-70.4, 3.0, NONE), 12.5: (-63.4, 2.5, NONE), 16: (-56.7, 2.0, 4.0), 20: (-50.5, 2.0, 2.0),
    25: (-44.7, 2.0, 1.5), 31.5: (-39.4, 1.5, 1.5), 40: (-34.6, 1.0, 1.0), 50: (-30.2, 1.0, 1.0),
    63: (-26.2, 1.0, 1.0), 80: (-22.5, 1.0, 1.0), 100: (-19.1, 1.0, 1.0), 125: (-16.1, 1.0, 1.0),
    160: (-13.4, 1.0, 1.0), 200: (-10.9, 1.0, 1.0), 250: (-8.6, 1.0, 1.0), 315: (-6.6, 1.0, 1.0),
    400: (-4.8, 1.0, 1.0), 500: (-3.2, 1.0, 1.0), 630: (-1.9, 1.0, 1.0), 800: (-0.8, 1.0, 1.0),
    1000: (0.0, 0.7, 0.7), 1250: (0.6, 1.0, 1.0), 1600: (1.0, 1.0, 1.0), 2000: (1.2, 1.0, 1.0),
    2500: (1.3, 1.0, 1.0), 3150: (1.2, 1.0, 1.0), 4000: (1.0, 1.0, 1.0), 5000: (0.5, 1.5, 1.5),
    6300: (-0.1, 1.5, 2.0), 8000: (-1.1, 1.5, 2.5), 10_000: (-2.5, 2.0, 3.0),
    12_500: (-4.3, 2.0, 5.0), 16_000: (-6.6, 2.5, 16.0), 20_000: (-9.3, 3.0, NONE),
}  # fmt: skip
G = 10.0**0.3
LIMITS = {
    # octaves off the middle of an octave band: least and most attenuation of class 1, dB
    0.0: (-0.4, 0.4), 0.125: (-0.4, 0.5), 0.25: (-0.4, 0.7), 0.375: (-0.4, 1.4),
    0.4999: (-0.4, 5.3), 0.5: (1.2, NONE), 1.0: (16.6, NONE), 2.0: (40.5, NONE), 3.0: (60.0, NONE),
    4.0: (70.0, NONE),
}  # fmt: skip


def sine(hz: float, *, rate: int, seconds: float = 1.5) -> np.ndarray:
    return np.sin(2 * np.pi * hz * np.arange(round(seconds * rate)) / rate + 0.3)


def noise(*, rate: int, seed: int, seconds: float) -> np.ndarray:
    return 0.1 * np.random.default_rng(seed).standard_normal(round(seconds * rate))


def bands_dbfs(sound: np.ndarray, *, rate: int) -> np.ndarray:
    levels = third_levels(power_by_hz(sound, rate=rate, window=even))
    return np.array([level.dbfs for level in levels])


# ------------------------------------------------------------------ A-weighting


@pytest.mark.slow
@pytest.mark.parametrize("rate", RATES)
def test_a_level_of_tones_keeps_within_class_1_from_10_hz_to_20_khz(rate: int) -> None:
    for nominal, (weight_db, over, under) in A_TABLE.items():
        tone = sine(exact_hz(nominal), rate=rate)
        off = a_weighted_dbfs(tone, rate=rate) - rms_dbfs(tone) - weight_db
        # What the window's skirts add below 20 Hz is 0.3 dB, the table's rounding 0.05 dB.
        assert -min(under, 0.1) <= off <= min(over, 0.4 if nominal < 20 else 0.1), nominal


@pytest.mark.parametrize("rate", RATES)
def test_noise_of_known_density_has_the_a_level_of_its_integral(rate: int) -> None:
    hz = np.linspace(0.0, rate / 2, 400_001)
    expected = -20.0 + 10 * np.log10(np.mean(a_weighting(hz)))
    # Of 2 s the level is known to some hundredths: 10/ln 10 · √(1 / (seconds · bandwidth)), times five.
    assert a_weighted_dbfs(noise(rate=rate, seed=11, seconds=2.0), rate=rate) == pytest.approx(
        expected, abs=0.15
    )


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_a_level_is_what_a_filter_in_time_makes_of_the_same_noise(rate: int) -> None:
    # Up to 8 kHz: the referee falls early beyond, by 0.3 dB of white noise, which class 1 allows.
    low = signal.firwin(801, 8000.0, fs=rate)
    sound = np.convolve(noise(rate=rate, seed=3, seconds=4.0), low, mode="same")
    referee = rms_dbfs(np.asarray(weighting_filter(sound, rate, "A")))
    assert a_weighted_dbfs(sound, rate=rate) == pytest.approx(referee, abs=0.1)


def test_a_weighting_is_an_analogue_filter_with_the_standards_poles() -> None:
    # IEC 61672-1:2013, annex E: poles from the four frequencies that define the weighting (from memory).
    reference, low, high, corner = 1000.0, 10.0**1.5, 10.0**3.9, 10.0**2.45
    half = math.sqrt(0.5)
    b = (reference**2 + (low * high / reference) ** 2 - half * (low**2 + high**2)) / (1.0 - half)
    root = math.sqrt(b * b - 4.0 * (low * high) ** 2)
    first, last = math.sqrt((-b - root) / 2.0), math.sqrt((-b + root) / 2.0)
    middle = ((3 - math.sqrt(5)) / 2 * corner, (3 + math.sqrt(5)) / 2 * corner)
    poles = -2 * np.pi * np.array([first, first, *middle, last, last])
    hz = np.geomspace(10.0, 90_000.0, 500)
    turns = 2 * np.pi * np.array([1000.0, *hz])
    _, response = signal.freqs_zpk(np.zeros(4), poles, 1.0, worN=turns)
    level = 20 * np.log10(np.abs(response))
    assert 10 * np.log10(a_weighting(hz)) == pytest.approx(level[1:] - level[0], abs=1e-4)


# ------------------------------------------------------------------ third octaves


def test_middles_and_edges_are_those_of_base_ten() -> None:
    # IEC 61260-1:2014, annex E: exact middles to five digits, 50 Hz, 1 kHz, 3150 Hz and 10 kHz.
    exact = {50.0: 50.119, 1000.0: 1000.0, 3150.0: 3162.3, 10_000.0: 10_000.0}
    for nominal, middle in exact.items():
        assert exact_hz(nominal) == pytest.approx(middle, rel=1e-4)
    edges = [edges_hz(nominal) for nominal in NOMINAL_HZ]
    for (_, high), (low, _) in pairwise(edges):
        assert high == pytest.approx(low, rel=1e-12)
    # The names lie within their bands and nearest to their own middle.
    assert all(low < nominal < high for nominal, (low, high) in zip(NOMINAL_HZ, edges, strict=True))


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("nominal", [50.0, 63.0, 80.0, 100.0, 250.0, 1000.0, 3150.0, 10_000.0])
def test_attenuation_of_tones_keeps_within_class_1(nominal: float, rate: int) -> None:
    at = NOMINAL_HZ.index(nominal)
    for octaves, (least, most) in LIMITS.items():
        # IEC 61260-1:2014, formulas 8 and 9: limits of an octave band brought onto a third.
        apart = 1.0 + (G ** (1 / 6) - 1.0) / (G**0.5 - 1.0) * (G**octaves - 1.0)
        for hz in (exact_hz(nominal) * apart, exact_hz(nominal) / apart):
            if hz > 0.48 * rate:
                continue
            tone = sine(hz, rate=rate)
            attenuation = rms_dbfs(tone) - bands_dbfs(tone, rate=rate)[at]
            assert least <= attenuation <= most, (octaves, hz)


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_bands_of_noise_are_as_wide_as_they_should_be(rate: int) -> None:
    # Of white noise each band holds its width's share: the effective bandwidth, class 1 ±0.4 dB.
    found = bands_dbfs(noise(rate=rate, seed=5, seconds=20.0), rate=rate)
    widths = np.array([np.subtract(*edges_hz(nominal)[::-1]) for nominal in NOMINAL_HZ])
    expected = -20.0 + 10 * np.log10(widths / (rate / 2))
    spread = 4.34 / np.sqrt(20.0 * widths)  # standard deviation of a level of Gaussian noise
    assert np.all(np.abs(found - expected) < 0.02 + 4.0 * spread)


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_band_levels_are_what_filters_in_time_find(rate: int) -> None:
    sound = noise(rate=rate, seed=6, seconds=10.0)
    bank = OctaveFilterBank(rate, fraction=3, order=8, limits=[90.0, 11_000.0])
    _, freq, parts = bank.filter(sound, sigbands=True)
    found = dict(zip(NOMINAL_HZ, bands_dbfs(sound, rate=rate), strict=True))
    for hz, part in zip(freq, parts, strict=True):
        nominal = min(NOMINAL_HZ, key=lambda name: abs(math.log(exact_hz(name) / float(hz))))
        assert exact_hz(nominal) == pytest.approx(float(hz), rel=2e-3)
        # A Butterworth filter's skirts take in what a neighbour has and give away their own.
        assert rms_dbfs(np.asarray(part)) == pytest.approx(found[nominal], abs=0.4)


# ------------------------------------------------------------------ gain


@settings(max_examples=15)
@given(st.floats(-60.0, 20.0), st.sampled_from([44_100, 48_000]), st.integers(0, 1000))
def test_gain_moves_bands_and_a_level_by_itself(gain_db: float, rate: int, seed: int) -> None:
    sound = noise(rate=rate, seed=seed, seconds=1.2)
    louder = sound * 10 ** (gain_db / 20)
    assert a_weighted_dbfs(louder, rate=rate) == pytest.approx(
        a_weighted_dbfs(sound, rate=rate) + gain_db, abs=1e-4
    )
    assert bands_dbfs(louder, rate=rate) == pytest.approx(
        bands_dbfs(sound, rate=rate) + gain_db, abs=1e-4
    )
