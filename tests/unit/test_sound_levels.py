"""Every level of a channel in one go: as tool by tool, however it is cut, and moved by gain alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audio.measure.levels import aes17_dbfs, peak_dbfs, rms_dbfs
from audio.measure.sound_levels import sound_levels
from audio.measure.true_peak import true_peak_dbtp
from audio.measure.weighting import a_weighted_dbfs
from audio.vocab.levels import SoundLevels

RATE = 48_000


def noise(seed: int, *, seconds: float = 2.0) -> np.ndarray:
    return 0.05 * np.random.default_rng(seed).standard_normal(round(seconds * RATE))


def figures(found: SoundLevels) -> np.ndarray:
    """Return everything in it that is a level."""
    single = (
        found.peak_dbfs,
        found.true_peak_dbtp,
        found.rms_dbfs,
        found.rms_aes17_dbfs,
        found.a_dbfs,
        found.loudness_lufs or 0.0,
    )
    return np.array([*single, *(third.dbfs for third in found.thirds)])


def test_a_full_scale_sine_reads_0_after_aes17_and_3_less_plainly() -> None:
    # AES17-2020, 3.12: full scale is the level of a sine whose peak is full scale (from memory).
    sine = np.sin(2 * np.pi * 997 * np.arange(2 * RATE) / RATE)
    found = sound_levels([sine], rate=RATE, speakers=1)
    assert found.rms_aes17_dbfs == pytest.approx(0.0, abs=1e-3)
    assert found.rms_dbfs == pytest.approx(-3.0103, abs=1e-3)
    assert aes17_dbfs(rms_dbfs(sine)) == pytest.approx(0.0, abs=1e-3)
    assert found.a_dbfs == pytest.approx(-3.01, abs=0.01)
    in_band = {third.hz: third.dbfs for third in found.thirds}
    assert in_band[1000.0] == pytest.approx(-3.01, abs=0.01)
    assert in_band[500.0] < -80.0


def test_all_levels_are_what_each_tool_tells() -> None:
    sound = noise(1)
    sound[1000:1005] = 1.0
    sound[40_000:40_002] = -1.0
    found = sound_levels(np.array_split(sound, 7), rate=RATE, speakers=2)
    assert found.frames == sound.size
    assert found.peak_dbfs == peak_dbfs(sound)
    assert found.rms_dbfs == pytest.approx(rms_dbfs(sound), abs=1e-9)
    assert found.rms_aes17_dbfs == pytest.approx(rms_dbfs(sound) + 3.0103, abs=1e-4)
    assert found.true_peak_dbtp == pytest.approx(true_peak_dbtp(sound, rate=RATE), abs=1e-5)
    assert found.a_dbfs == pytest.approx(a_weighted_dbfs(sound, rate=RATE), abs=1e-5)
    assert found.clipped_runs == 1
    assert [(run.at_frame, run.frames) for run in found.first_clipped] == [(1000, 5)]


@settings(max_examples=15)
@given(st.lists(st.integers(1, 20_000), max_size=8), st.integers(0, 50))
def test_pieces_of_any_size_give_the_same_levels(sizes: list[int], seed: int) -> None:
    sound = noise(seed)
    cut = sound_levels(np.split(sound, np.cumsum(sizes)), rate=RATE, speakers=1)
    assert figures(cut) == pytest.approx(
        figures(sound_levels([sound], rate=RATE, speakers=1)), abs=1e-4
    )


@settings(max_examples=15)
@given(st.floats(-20.0, 20.0), st.integers(0, 50))
def test_gain_moves_every_level_by_exactly_itself(gain_db: float, seed: int) -> None:
    sound = noise(seed)
    before = sound_levels([sound], rate=RATE, speakers=1)
    after = sound_levels([sound * 10 ** (gain_db / 20)], rate=RATE, speakers=1)
    assert figures(after) - figures(before) == pytest.approx(gain_db, abs=1e-4)


@pytest.mark.parametrize("frames", [0, 100, RATE])
def test_silence_and_nothing_at_all_have_a_floor_and_no_loudness(frames: int) -> None:
    found = sound_levels([np.zeros(frames)], rate=RATE, speakers=1)
    assert (found.peak_dbfs, found.true_peak_dbtp, found.rms_dbfs) == (-200.0, -200.0, -200.0)
    assert (found.rms_aes17_dbfs, found.a_dbfs, found.loudness_lufs) == (-200.0, -200.0, None)
    assert {third.dbfs for third in found.thirds} == {-200.0}
