"""Sound in the room's air: how far it goes in a time."""

from __future__ import annotations

import math

ROOM_CELSIUS = 20.0
"""A room's temperature where nobody said another: the standard's reference temperature."""

COLDEST_CELSIUS, HOTTEST_CELSIUS = -20.0, 50.0
"""The range of temperatures ISO 9613-1 speaks of."""

_REFERENCE_M_S = 343.2
_ZERO_CELSIUS_K = 273.15


def speed_of_sound_m_s(celsius: float) -> float:
    """Return the speed of sound in air.

    ISO 9613-1:1993, formula A.5: 343.2 m/s times the root of the absolute temperature over 293.15 K.

    Parameters
    ----------
    celsius
        Temperature of the air, degrees · −20 to 50, the standard's range; over −273.15.

    Returns
    -------
    float
        Metres per second.
    """
    kelvin = celsius + _ZERO_CELSIUS_K
    return _REFERENCE_M_S * math.sqrt(kelvin / (ROOM_CELSIUS + _ZERO_CELSIUS_K))


def air_cm(frames: float, *, rate: int, celsius: float) -> float:
    """Return the way through air, centimetres, that sound goes in some frames.

    Parameters
    ----------
    frames
        Any, less than 0 where it arrives earlier.
    rate
        Frames a second.
    celsius
        Temperature of the air, degrees.

    Returns
    -------
    float
        Centimetres, with the sign of `frames`.
    """
    return 100.0 * speed_of_sound_m_s(celsius) * frames / rate
