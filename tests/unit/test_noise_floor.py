"""The noise of a resting return taken apart, against noise and lines of known level."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from audio.measure.noise_floor import noise_floor
from audio.measure.weighting import a_weighted_dbfs, a_weighting
from audio.vocab.levels import NoiseFloor
from audio.vocab.units import ratio_from_db

RATE = 48_000
Signal = NDArray[np.float64]


def hiss(dbfs: float, *, seconds: float = 3.0, seed: int = 1) -> Signal:
    draw = np.random.default_rng(seed)
    return draw.standard_normal(round(seconds * RATE)) * ratio_from_db(dbfs)


def lines(hz: float, count: int, dbfs: float, *, seconds: float = 3.0) -> Signal:
    """Return a frequency and its multiples, each half as high as the one before, RMS together."""
    at = np.arange(round(seconds * RATE)) / RATE
    sound = sum(np.sin(2 * np.pi * hz * k * at + k) / 2.0 ** (k - 1) for k in range(1, count + 1))
    return np.asarray(sound * (ratio_from_db(dbfs) / np.sqrt(np.mean(np.square(sound)))))


def test_a_weighting_is_that_of_the_standard() -> None:
    # IEC 61672-1:2013, table 3 (from memory); its figures are rounded to a tenth of a decibel and belong
    # to exact frequencies of base ten.
    table = {
        31.5: -39.4, 63: -26.2, 125: -16.1, 250: -8.6, 500: -3.2, 1000: 0.0,
        2000: 1.2, 4000: 1.0, 8000: -1.1, 16_000: -6.6,
    }  # fmt: skip
    exact = 1000.0 * 10.0 ** (np.round(10.0 * np.log10(np.array(list(table)) / 1000.0)) / 10.0)
    got = 10.0 * np.log10(a_weighting(exact))
    assert got == pytest.approx(np.array(list(table.values())), abs=0.06)


def test_a_weighting_takes_mains_away_as_far_as_the_table_says() -> None:
    hum = lines(50.0, 1, -40.0)
    assert a_weighted_dbfs(hum, rate=RATE) == pytest.approx(-40.0 - 30.2, abs=0.1)


@pytest.mark.parametrize("seed", range(8))
def test_noise_alone_has_no_lines(seed: int) -> None:
    floor = noise_floor(hiss(-84.0, seed=seed), rate=RATE)
    assert (floor.hum, floor.whine, floor.other_lines) == (None, None, ())
    assert floor.hiss_dbfs == pytest.approx(-84.0, abs=0.1)
    assert floor.rms_dbfs == pytest.approx(-84.0, abs=0.1)


@pytest.mark.parametrize("seconds", [1.0, 1.2, 2.0])
def test_short_noise_has_no_lines_either_not_even_at_the_ends_of_the_band(seconds: float) -> None:
    floors = [noise_floor(hiss(-84.0, seconds=seconds, seed=s), rate=RATE) for s in range(100, 140)]
    called = [f for f in floors if f.hum or f.whine or f.other_lines]
    assert called == []


@pytest.mark.parametrize("hz", [50, 60])
@pytest.mark.parametrize("off", [-0.002, 0.0, 0.002])
def test_hum_is_apart_from_hiss_whatever_the_mains_really_have(hz: int, off: float) -> None:
    sound = hiss(-80.0) + lines(hz * (1.0 + off), 6, -75.0)
    floor = noise_floor(sound, rate=RATE)
    assert floor.hum is not None
    assert floor.hum.hz == hz
    assert floor.hum.exact_hz == pytest.approx(hz * (1.0 + off), abs=0.05)
    assert floor.hum.dbfs == pytest.approx(-75.0, abs=0.3)
    assert floor.hiss_dbfs == pytest.approx(-80.0, abs=0.2)
    assert floor.whine is None


@pytest.mark.parametrize("hz", [1000, 8000])
def test_whine_is_told_by_its_family(hz: int) -> None:
    floor = noise_floor(hiss(-80.0) + lines(hz, 2, -85.0), rate=RATE)
    assert floor.whine is not None
    assert (floor.whine.hz, floor.hum) == (hz, None)
    assert floor.whine.dbfs == pytest.approx(-85.0, abs=0.3)


def test_hum_and_whine_stand_side_by_side() -> None:
    floor = noise_floor(hiss(-90.0) + lines(50.0, 8, -60.0) + lines(1000.0, 3, -80.0), rate=RATE)
    assert floor.hum is not None
    assert floor.whine is not None
    assert floor.hum.dbfs == pytest.approx(-60.0, abs=0.3)
    assert floor.whine.dbfs == pytest.approx(-80.0, abs=0.5)


def test_direct_current_is_no_noise_and_failures_are_reasons() -> None:
    assert noise_floor(hiss(-84.0) + 0.1, rate=RATE).rms_dbfs == pytest.approx(-84.0, abs=0.1)
    assert noise_floor(np.zeros(2 * RATE), rate=RATE).reason == "digital silence"
    assert noise_floor(hiss(-84.0, seconds=0.5), rate=RATE).reason == "too short"


@settings(max_examples=10)
@given(st.floats(-30.0, 30.0), st.integers(0, 100))
def test_gain_moves_every_kind_of_noise_by_exactly_itself(gain_db: float, seed: int) -> None:
    sound = hiss(-80.0, seconds=2.0, seed=seed)
    sound += lines(50.0, 6, -65.0, seconds=2.0) + lines(1000.0, 3, -75.0, seconds=2.0)
    before = noise_floor(sound, rate=RATE)
    after = noise_floor(sound * ratio_from_db(gain_db), rate=RATE)
    assert kinds_dbfs(after) == pytest.approx(
        [one + gain_db for one in kinds_dbfs(before)], abs=0.01
    )


def kinds_dbfs(floor: NoiseFloor) -> list[float]:
    assert floor.hum is not None
    assert floor.whine is not None
    assert floor.hiss_dbfs is not None
    single = [line.dbfs for line in (*floor.hum.lines, *floor.whine.lines)]
    return [
        floor.rms_dbfs,
        floor.a_dbfs,
        floor.hiss_dbfs,
        floor.hum.dbfs,
        floor.whine.dbfs,
        *single,
    ]
