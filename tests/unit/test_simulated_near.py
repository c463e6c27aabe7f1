"""What a microphone close to the loudspeaker hears of its distance."""

from __future__ import annotations

import numpy as np
import pytest
from simulated_wirings import SILENT, delay_of, plain, played, pulse, room

from audio.vocab.wiring import Microphone

RATE = 48_000


def response(distance_cm: float, *, near_field: bool = True, rate: int = RATE) -> np.ndarray:
    one = room(
        rate=rate,
        converter_frames=131.0,
        microphones=(plain(distance_cm=distance_cm, near_field=near_field),),
        **SILENT,
    )
    return played(one, pulse(8192))[:, 1] / 0.5


def gain_db(heard: np.ndarray, hz: float, *, rate: int = RATE) -> float:
    turn = np.exp(-2j * np.pi * hz * np.arange(heard.size) / rate)
    return float(20.0 * np.log10(np.abs(heard @ turn)))


@pytest.mark.parametrize("near_field", [False, True])
def test_at_5_cm_and_where_it_is_off_nothing_changes(near_field: bool) -> None:
    plainly = response(5.0, near_field=False)
    assert np.allclose(response(5.0, near_field=near_field), plainly, atol=1e-12)
    far = response(50.0, near_field=False)
    assert gain_db(far, 1000.0) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("rate", [44_100, 96_000])
@pytest.mark.parametrize("distance_cm", [0.0, 3.0, 7.0, 30.0, 100.0])
@pytest.mark.parametrize("hz", [60.0, 100.0, 400.0, 2000.0])
def test_level_and_bass_follow_the_field_of_a_point_source(
    distance_cm: float, hz: float, rate: int
) -> None:
    """Sound pressure and gradient about a point: 1/r, and 1 + c/(jωr) beside it (any handbook)."""

    def cardioid(r: float) -> complex:
        return (1.0 + 343.2 / (2j * np.pi * hz * 2.0 * r)) / r

    expected = 20.0 * np.log10(abs(cardioid(0.15 + distance_cm / 100.0) / cardioid(0.20)))
    found = gain_db(response(distance_cm, rate=rate), hz, rate=rate)
    assert found == pytest.approx(expected, abs=0.1)


def test_two_centimetres_are_nearly_a_decibel() -> None:
    step = gain_db(response(7.0), 2000.0) - gain_db(response(5.0), 2000.0)
    assert step == pytest.approx(-0.83, abs=0.05)


def test_the_first_arrival_stays_where_the_air_puts_it() -> None:
    heard = response(30.0)
    assert int(np.argmax(np.abs(heard))) == round(512 + 131 + 0.3 / 343.2 * RATE)
    delay = delay_of(heard, rate=RATE, low_hz=4000.0)
    assert delay == pytest.approx(512 + 131 + 0.3 / 343.2 * RATE, abs=0.05)


def test_a_cabinet_keeps_its_length_and_its_microphone_its_gain() -> None:
    microphones = tuple(
        Microphone(input=n, distance_cm=20.0, near_field=near)
        for n, near in ((2, True), (3, False))
    )
    one = room(rate=RATE, converter_frames=164.37, microphones=microphones, **SILENT)
    heard = played(one, pulse(8192))
    bands = [gain_db(heard[:, n], 2000.0) for n in (1, 2)]
    assert bands[0] - bands[1] == pytest.approx(20.0 * np.log10(20.0 / 35.0), abs=0.1)
