"""True peak, volts and hours, beside values from outside."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.measure.levels import peak_dbfs
from audio.measure.true_peak import true_peak_dbtp
from audio.vocab.hearing import permissible_hours
from audio.vocab.volts import dbu_from_volts, dbv_from_volts, volts_from_dbu


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize(
    ("divisor", "degrees", "height", "dbtp"),
    [
        (4, 0.0, 0.5, -6.0),
        (4, 45.0, 0.5, -6.0),
        (6, 60.0, 0.5, -6.0),
        (8, 67.5, 0.5, -6.0),
        (4, 45.0, 1.41, 3.0),
    ],
)
def test_true_peaks_of_sines_between_the_samples(
    rate: int, divisor: int, degrees: float, height: float, dbtp: float
) -> None:
    # EBU Tech 3341, table of true-peak test signals 15 to 19, with its tolerance (from memory).
    at = np.arange(rate)
    sine = height * np.sin(2 * np.pi * at / divisor + math.radians(degrees))
    fade = np.minimum(1.0, np.minimum(at, at[::-1]) / (0.1 * rate))
    found = true_peak_dbtp(sine * fade, rate=rate)
    assert dbtp - 0.4 <= found <= dbtp + 0.2


@given(st.floats(0.01, 0.44), st.floats(0.0, 6.28), st.sampled_from([44_100, 48_000]))
def test_a_sine_reads_its_height_wherever_its_samples_fall(
    turns: float, phase: float, rate: int
) -> None:
    # Four times oversampled, 0.44 of the rate is read 0.27 dB low at worst: cos(π · 0.44 / 5) at 44.1 kHz.
    sine = 0.5 * np.sin(2 * np.pi * turns * np.arange(4000) + phase)
    worst = -20 * np.log10(np.cos(np.pi * turns / math.ceil(192_000 / rate)))
    found = true_peak_dbtp(sine, rate=rate)
    assert 20 * np.log10(0.5) - worst - 0.02 <= found <= 20 * np.log10(0.5) + 0.02


def test_a_cut_does_not_ring_and_a_fine_rate_is_taken_as_it_is() -> None:
    flat = np.full(4000, 0.5)
    assert true_peak_dbtp(flat, rate=48_000) == pytest.approx(20 * np.log10(0.5), abs=0.01)
    noise = np.random.default_rng(1).uniform(-1, 1, 500)
    assert true_peak_dbtp(noise, rate=192_000) == peak_dbfs(noise)
    assert true_peak_dbtp(noise[:40], rate=48_000) == peak_dbfs(noise[:40])


@pytest.mark.parametrize(
    ("volts", "dbu", "dbv"),
    # Handbook values (from memory), rounded as they print them: half a digit is 0.004 dB.
    [(0.7746, 0.0, -2.218), (1.228, 4.0, 1.784), (0.3162, -7.782, -10.0), (1.0, 2.218, 0.0)],
)
def test_volts_beside_handbook_values(volts: float, dbu: float, dbv: float) -> None:
    assert dbu_from_volts(volts) == pytest.approx(dbu, abs=5e-3)
    assert dbv_from_volts(volts) == pytest.approx(dbv, abs=5e-3)
    assert volts_from_dbu(dbu) == pytest.approx(volts, rel=6e-4)


@pytest.mark.parametrize(
    ("dba", "minutes"),
    # NIOSH 98-126, table 1-1 (from memory).
    [(85, 480.0), (88, 240.0), (91, 120.0), (94, 60.0), (97, 30.0), (100, 15.0), (106, 3.75)],
)
def test_hours_beside_the_table(dba: float, minutes: float) -> None:
    assert permissible_hours(dba) * 60.0 == pytest.approx(minutes)
