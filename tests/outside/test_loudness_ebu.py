"""Loudness and true peak on the synthetic signals of EBU Tech 3341, with the document's own tolerances.

All signals are made here as the document describes them (from memory): 1 to 6 for integrated loudness, ±0.1
LU; 15 to 23 for true peak, +0.2 and −0.4 dB. Their stereo signals are the same on both sides, which is one
channel heard on two loudspeakers; number 6 has five, added up with the weights of ITU-R BS.1770-5, annex 1,
table 3 (from memory): 1 in front, 1.41 behind. Referee where the whole signal is at hand: pyloudnorm.
"""

from __future__ import annotations

import math

import numpy as np
import pyloudnorm
import pytest
from scipy import signal

from audio.measure.loudness import RunningLoudness, integrated_lufs
from audio.measure.true_peak import true_peak_dbtp
from audio.vocab.units import ratio_from_db

RATE = 48_000
RATES = [44_100, 48_000, 96_000, 192_000]
TOLERANCE_LU = 0.1
STEPS = {
    # number of the signal: (peak dBFS, seconds) one after the other, expected LUFS
    1: (((-23.0, 20.0),), -23.0),
    2: (((-33.0, 20.0),), -33.0),
    3: (((-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)), -23.0),
    4: (((-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)), -23.0),
    5: (((-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)), -23.0),
}
SURROUND = ((-28.0, 1.0), (-28.0, 1.0), (-24.0, 1.0), (-30.0, 1.41), (-30.0, 1.41))
"""Signal 6: left, right, centre, both surrounds; peak dBFS and weight."""


def stepped(steps: tuple[tuple[float, float], ...], *, rate: int) -> np.ndarray:
    """Return a sine of 1 kHz whose peak goes from level to level."""
    heights = [np.full(round(seconds * rate), ratio_from_db(dbfs)) for dbfs, seconds in steps]
    height = np.concatenate(heights)
    return height * np.sin(2 * np.pi * 1000.0 * np.arange(height.size) / rate)


def heard(sound: np.ndarray, *, rate: int) -> RunningLoudness:
    running = RunningLoudness(rate=rate)
    hop = rate // 10
    running.feed(sound[: sound.size // hop * hop].reshape(-1, hop))
    return running


@pytest.mark.parametrize("number", STEPS)
def test_integrated_loudness_of_signals_1_to_5(number: int) -> None:
    steps, lufs = STEPS[number]
    sound = stepped(steps, rate=RATE)
    found = heard(sound, rate=RATE).lufs(speakers=2)
    assert found == pytest.approx(lufs, abs=TOLERANCE_LU)
    referee = pyloudnorm.Meter(RATE).integrated_loudness(np.column_stack((sound, sound)))
    assert found == pytest.approx(referee, abs=TOLERANCE_LU)


@pytest.mark.parametrize("rate", RATES)
def test_integrated_loudness_of_signal_6_with_five_loudspeakers(rate: int) -> None:
    powers = sum(
        weight * heard(stepped(((dbfs, 20.0),), rate=rate), rate=rate).powers()
        for dbfs, weight in SURROUND
    )
    assert integrated_lufs(np.asarray(powers)) == pytest.approx(-23.0, abs=TOLERANCE_LU)


def test_one_loudspeaker_reads_three_less_and_what_it_gates_is_its_own() -> None:
    sound = stepped(((-23.0, 5.0),), rate=RATE)
    one, two = (heard(sound, rate=RATE).lufs(speakers=n) for n in (1, 2))
    assert one is not None
    assert two == pytest.approx(one + 10 * math.log10(2), abs=1e-9)
    faint = heard(stepped(((-69.0, 5.0),), rate=RATE), rate=RATE)
    assert (faint.lufs(speakers=1), faint.lufs(speakers=2) is None) == (None, False)


def test_k_weighting_is_that_of_the_recommendations_coefficients() -> None:
    # ITU-R BS.1770-5, annex 1, tables 1 and 2, at 48 kHz (from memory).
    shelf = ([1.53512485958697, -2.69169618940638, 1.19839281085285],
             [1.0, -1.69065929318241, 0.73248077421585])  # fmt: skip
    high_pass = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])
    for hz in (30.0, 60.0, 100.0, 400.0, 1000.0, 1500.0, 3000.0, 10_000.0, 18_000.0):
        sine = np.sin(2 * np.pi * hz * np.arange(4 * RATE) / RATE)
        ours = 10 * np.log10(2.0 * np.mean(heard(sine, rate=RATE).powers()[10:]))
        turn = [2 * np.pi * hz / RATE]
        theirs = sum(
            float(20 * np.log10(np.abs(signal.freqz(*stage, worN=turn)[1][0])))
            for stage in (shelf, high_pass)
        )
        assert ours == pytest.approx(theirs, abs=TOLERANCE_LU)


# ------------------------------------------------------------------ true peak

SINES = {
    # number of the signal: frames of a period, degrees, height, expected dBTP
    15: (4, 0.0, 0.50, -6.0),
    16: (4, 45.0, 0.50, -6.0),
    17: (6, 60.0, 0.50, -6.0),
    18: (8, 67.5, 0.50, -6.0),
    19: (4, 45.0, 1.41, 3.0),
}


def assert_within(found: float, dbtp: float) -> None:
    assert dbtp - 0.4 <= found <= dbtp + 0.2


@pytest.mark.parametrize("rate", RATES[:3])
@pytest.mark.parametrize("number", SINES)
def test_true_peak_of_signals_15_to_19(number: int, rate: int) -> None:
    period, degrees, height, dbtp = SINES[number]
    at = np.arange(rate)
    fade = np.minimum(1.0, np.minimum(at, at[::-1]) / (0.1 * rate))
    sine = height * fade * np.sin(2 * np.pi * at / period + math.radians(degrees))
    assert_within(true_peak_dbtp(sine, rate=rate), dbtp)


@pytest.mark.parametrize("offset", range(4))
def test_true_peak_of_signals_20_to_23(offset: int) -> None:
    # A sine of half the height, one period of it at full height, made at four times the rate and brought
    # to the rate by leaving out three frames of four, beginning with each of the first four; 0 dBTP at the
    # fine rate. Which frequency the document takes is not remembered: here a quarter of the rate.
    at = np.arange(2 * RATE)
    sound = 0.5 * np.sin(2 * np.pi * at / 16.0)
    sound[at.size // 2 : at.size // 2 + 16] *= 2.0
    low = signal.firwin(1025, 0.245, window=("kaiser", 10.0))
    fine = np.convolve(sound, low, mode="same")
    found = true_peak_dbtp((fine / np.max(np.abs(fine)))[offset::4], rate=RATE)
    assert_within(found, 0.0)


@pytest.mark.parametrize("rate", RATES[:3])
def test_a_general_resampler_finds_the_same_true_peak(rate: int) -> None:
    # Referee: scipy's resampling by transforms, 32 times, of noise up to 0.44 of the rate that begins and
    # ends in silence. What lies between our own values is missed by 0.3 dB at most there.
    draw = np.random.default_rng(7).standard_normal(4096)
    band = np.convolve(draw, signal.firwin(401, 0.86, window=("kaiser", 10.0)), mode="same")
    sound = np.pad(0.2 * band * np.hanning(band.size), 64)
    referee = 20 * math.log10(np.max(np.abs(signal.resample(sound, 32 * sound.size))))
    found = true_peak_dbtp(sound, rate=rate)
    assert referee - 0.4 <= found <= referee + 0.02
