"""The DI as an amp's curve would bend it: the drive under which it is most like the recording.

A driven amp is, to good approximation, a curve without memory before a loudspeaker that is linear
(a Hammerstein model; common practice, no source). Compared with the DI itself, hard distortion is half
noise, and its onsets come early; compared with the DI behind the right curve, the rest is linear again.
The hyperbolic tangent stands for any soft clipping: what counts is where it starts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure import gauss
from audio.measure.spread import spread
from audio.measure.whitened import Geometry, likeness, lowered
from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audio.measure.strikes import Strike

_FIRST_DB, _LAST_DB, _STEP_DB = -24.0, 56.0, 8.0
"""Drive over the level at which a usual attack reaches the bend. The first is as good as linear."""
_LISTENED = 32
"""Strikes by which the drive is chosen."""
_FINEST_DB = 1.5


def usual_peak(strikes: Sequence[Strike]) -> float:
    """Return the median of the attacks' peaks, linear."""
    return float(np.median([np.max(np.abs(one.di)) for one in strikes]))


def driven(strike: Strike, shape: Geometry, *, gain: float) -> NDArray[np.complex64]:
    """Return the spectrum of a strike's DI after the curve, faded at its ends.

    `gain` is linear: 1 over it is the level at which the curve bends.
    """
    bent = np.tanh(strike.di * np.float32(gain))
    return lowered(bent * shape.ramp, shape)


def standing(di: NDArray[np.complex64], strike: Strike, shape: Geometry) -> NDArray[np.float32]:
    """Return likeness over noise at each lag, (2 · reach + 1,), the strike's own offset in the middle.

    In standard deviations of what the curve is elsewhere, its sign the polarity's; `di` is the
    strike's, driven.
    """
    whole = likeness(di, strike.recording, shape)
    searched = whole[: 2 * shape.reach + 1]
    noise = float(np.median(np.abs(searched))) / gauss.MEDIAN
    return searched / np.float32(max(noise, 1e-6))


def best_gain(strikes: Sequence[Strike], shape: Geometry) -> float:
    """Return the gain before the curve under which the strikes stand out most."""
    chosen = _spread(strikes)
    unit = 1.0 / max(usual_peak(strikes), 1e-9)

    def clearness(drive_db: float) -> float:
        gain = unit * ratio_from_db(drive_db)
        peaks = [
            np.max(np.abs(standing(driven(one, shape, gain=gain), one, shape))) for one in chosen
        ]
        return float(np.mean(np.sqrt(peaks)))

    tried = {db: clearness(db) for db in np.arange(_FIRST_DB, _LAST_DB + 1.0, _STEP_DB).tolist()}
    step = _STEP_DB / 2.0
    while step >= _FINEST_DB:
        best = max(tried, key=lambda db: tried[db])
        for db in (best - step, best + step):
            if _FIRST_DB <= db <= _LAST_DB:
                tried[db] = clearness(db)
        step /= 2.0
    return unit * ratio_from_db(max(tried, key=lambda db: tried[db]))


def _spread(strikes: Sequence[Strike]) -> list[Strike]:
    """Return some of the strikes, spread over all of the music."""
    return [strikes[index] for index in spread(len(strikes), _LISTENED)]
