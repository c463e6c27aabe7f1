"""What distance does to level and bass of a microphone close to a loudspeaker."""

from __future__ import annotations

import math

import numpy as np

from audio.device.simulated.cabinet import LENGTH_S
from audio.device.simulated.filters import Pole, Signal
from audio.vocab.air import ROOM_CELSIUS, speed_of_sound_m_s

_SOURCE_CM = 15.0
"""How far behind the cloth the sound seems to come from, about the radius of a 12-inch loudspeaker:
closer, its whole face is heard and level hardly rises (common practice, no source)."""
_USUAL_CM = 5.0
"""Distance at which the cabinets of the room are as they are."""


def with_distance(response: Signal, *, distance_cm: float, rate: int) -> Signal:
    """Return what a cardioid microphone hears of a loudspeaker at a distance, as against 5 cm.

    Level falls as one over the distance from the seeming source. A cardioid is half pressure, half
    gradient, and in a spherical wave the gradient is 1 + c / (jωr) times as strong (any handbook of
    acoustics): 1 + c / (2 jωr) together, so two distances differ by a shelf whose corners are
    c / (4π r) Hz at each of them. Bass falls twice, as 1 / r², treble once.

    Parameters
    ----------
    response
        Impulse response of the cabinet at 5 cm, shape (taps,).
    distance_cm
        From the cloth to the microphone, centimetres, 0 or more.
    rate
        Frames a second.

    Returns
    -------
    Signal
        Shape (taps,), at least `LENGTH_S` long, cut where the shelf has died away; minimum phase kept.
    """
    here, usual = ((_SOURCE_CM + cm) / 100.0 for cm in (distance_cm, _USUAL_CM))
    zero, pole = (
        math.exp(-speed_of_sound_m_s(ROOM_CELSIUS) / (2.0 * r * rate)) for r in (here, usual)
    )
    long = np.zeros(max(response.size, round(LENGTH_S * rate)))
    long[: response.size] = response
    long[1:] -= zero * long[:-1].copy()
    shelf = Pole(pole).process(long)
    return np.asarray(shelf * (usual / here * (1.0 + pole) / (1.0 + zero)), dtype=np.float64)
