"""True peak, volts and hours, beside values from outside."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.measure.levels import peak_dbfs
from audio.measure.true_peak import RunningTruePeak, true_peak_dbtp
from audio.vocab.hearing import permissible_hours, permissible_words
from audio.vocab.volts import dbu_from_volts, dbv_from_volts, volts_from_dbu


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


# NIOSH 98-126, table 1-1, 80 to 130 dBA (from memory, held against a reprint): hours and minutes, minutes
# and seconds, seconds.
HOURS = {
    80: (25, 24), 81: (20, 10), 82: (16, 0), 83: (12, 42), 84: (10, 5), 85: (8, 0), 86: (6, 21),
    87: (5, 2), 88: (4, 0), 89: (3, 10), 90: (2, 31), 91: (2, 0), 92: (1, 35), 93: (1, 16), 94: (1, 0),
}  # fmt: skip
MINUTES = {
    95: (47, 37), 96: (37, 48), 97: (30, 0), 98: (23, 49), 99: (18, 59), 100: (15, 0), 101: (11, 54),
    102: (9, 27), 103: (7, 30), 104: (5, 57), 105: (4, 43), 106: (3, 45), 107: (2, 59), 108: (2, 22),
    109: (1, 53), 110: (1, 29), 111: (1, 11),
}  # fmt: skip
SECONDS = {
    112: 56, 113: 45, 114: 35, 115: 28, 116: 22, 117: 18, 118: 14, 119: 11, 120: 9, 121: 7, 122: 6,
    123: 4, 124: 3, 125: 3, 126: 2, 127: 1, 128: 1, 129: 1, 130: 1,
}  # fmt: skip


def test_hours_beside_every_line_of_the_table() -> None:
    # The table rounds here and cuts there: within one of its own last digit. Its line of 99 dBA is 5 s more
    # than its own formula gives; the formula counts.
    for dba, (hours, minutes) in HOURS.items():
        assert abs(permissible_hours(dba) * 60 - (60 * hours + minutes)) < 1.0, dba
    for dba, (minutes, seconds) in MINUTES.items():
        assert abs(permissible_hours(dba) * 3600 - (60 * minutes + seconds)) < (
            6 if dba == 99 else 1
        ), dba
    for dba, seconds in SECONDS.items():
        assert abs(permissible_hours(dba) * 3600 - seconds) < 1.0, dba


@pytest.mark.parametrize(
    ("dba", "words"),
    [
        (80, "as long as you like"),
        (85, "at most 8.0 hours of it a day"),
        (94, "at most 1.0 hours of it a day"),
        (95, "at most 47 minutes of it a day"),
        (110, "at most 1 minute of it a day"),
        (120, "at most 8 seconds of it a day"),
        (128, "at most 1 second of it a day"),
        (130, "not without ear protection, not for a second"),
    ],
)
def test_hours_in_words_are_never_more_than_the_table_allows(dba: float, words: str) -> None:
    assert permissible_words(dba) == words


@given(st.lists(st.integers(0, 500), min_size=1, max_size=30), st.integers(0, 100))
def test_a_true_peak_is_the_same_however_the_sound_was_cut(sizes: list[int], seed: int) -> None:
    sound = np.random.default_rng(seed).standard_normal(sum(sizes))
    running = RunningTruePeak(rate=48_000)
    for piece in np.split(sound, np.cumsum(sizes)[:-1]):
        running.feed(piece)
    assert running.dbtp() == pytest.approx(true_peak_dbtp(sound, rate=48_000), abs=1e-5)
