"""The speed of sound, against the figures of the handbooks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.vocab.air import air_cm, speed_of_sound_m_s


@pytest.mark.parametrize(
    ("celsius", "metres_a_second", "within"),
    [
        # ISO 9613-1:1993: its reference speed at its reference temperature.
        (20.0, 343.2, 0.0),
        # CRC Handbook of Chemistry and Physics, dry air at 0 °C: 331.45 m/s (from memory).
        (0.0, 331.45, 0.3),
        # Tables of dry air: 319 m/s at −20 °C, 337 at 10, 349 at 30, 360 at 50 °C (from memory).
        (-20.0, 319.0, 0.5),
        (10.0, 337.3, 0.5),
        (30.0, 349.0, 0.5),
        (50.0, 360.4, 0.5),
    ],
)
def test_the_speed_of_sound_is_that_of_the_tables(
    celsius: float, metres_a_second: float, within: float
) -> None:
    assert speed_of_sound_m_s(celsius) == pytest.approx(metres_a_second, abs=within + 1e-9)


def test_ten_milliseconds_are_343_2_centimetres_of_air_at_20_degrees() -> None:
    assert air_cm(480.0, rate=48_000, celsius=20.0) == pytest.approx(343.2)
    assert air_cm(-480.0, rate=48_000, celsius=20.0) == pytest.approx(-343.2)


@given(celsius=st.floats(-20.0, 49.0))
def test_a_degree_is_some_0_18_per_cent_of_the_way(celsius: float) -> None:
    """The root of the absolute temperature: at 293 K a degree is 1/586 (common practice, no source)."""
    more = speed_of_sound_m_s(celsius + 1.0) / speed_of_sound_m_s(celsius) - 1.0
    assert 0.0015 < more < 0.0020
