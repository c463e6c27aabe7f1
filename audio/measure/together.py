"""How two microphones sit together: their polarity where it counts, in the low end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.shared import Shared
from audio.vocab.alignment import Polarity, Together

if TYPE_CHECKING:
    from numpy.typing import NDArray

LOW_HZ, HIGH_HZ = 80.0, 400.0
"""Where a guitar's body lies: what two microphones cancel there is missed first (common practice, no
source). Higher up their sum is a comb, whatever the polarity."""

UNSURE_DB = 1.0
"""Sum over difference within which neither polarity is better: a step of 1 dB is about the least that is
heard (common practice, no source), and noise beside a riff of 20 s stays within 0.1 dB (measured)."""

_APART_S = 0.040
"""Longest delay between two microphones: 14 m of air."""

_MOST_DB = 60.0


def together(shared: Shared | None, *, rate: int) -> Together:
    """Tell whether two returns support each other once their delay is taken out.

    Both are first brought to the same level from 80 to 400 Hz, as a mixer would: otherwise the
    louder would hide the other.

    Parameters
    ----------
    shared
        Of the reference return, first, and the other; None where the reference was silent.
    rate
        Frames a second.

    Returns
    -------
    Together
        ``unsure`` within `UNSURE_DB`.
    """
    if shared is None:
        return Together(polarity="unsure", sum_over_difference_db=None)
    low = (shared.hz >= LOW_HZ) & (shared.hz <= HIGH_HZ)
    powers = float(np.sum(shared.first[low])), float(np.sum(shared.second[low]))
    if min(powers) <= 0.0:
        return Together(polarity="unsure", sum_over_difference_db=None)
    turn = np.exp(2j * np.pi * shared.hz[low] * delay_frames(shared, rate=rate) / rate)
    alike = float(np.sum((shared.cross[low] * turn).real)) / np.sqrt(powers[0] * powers[1])
    more, less = max(1.0 + alike, 1e-9), max(1.0 - alike, 1e-9)
    db = float(np.clip(10.0 * np.log10(more / less), -_MOST_DB, _MOST_DB))
    return Together(polarity=_polarity(db), sum_over_difference_db=db)


def _polarity(db: float) -> Polarity:
    if abs(db) < UNSURE_DB:
        return "unsure"
    return "normal" if db > 0.0 else "inverted"


def delay_frames(shared: Shared, *, rate: int) -> int:
    """Return by how many frames the second signal is later, by its phase alone (Knapp and Carter 1976).

    Parameters
    ----------
    shared
        Of both.
    rate
        Frames a second.

    Returns
    -------
    int
        At most 40 ms either way; of either polarity.
    """
    band = (shared.hz > 1.5 * LOW_HZ) & (shared.hz < 8000.0)
    weight = np.sqrt(shared.first * shared.second)
    floor = 1e-6 * float(np.max(weight))
    white = np.where(band, shared.cross / (weight + floor + 1e-300), 0.0)
    curve: NDArray[np.float64] = np.abs(fft.irfft(white, shared.size))
    reach = min(round(_APART_S * rate), shared.size // 2 - 1)
    near = np.concatenate((curve[-reach:], curve[: reach + 1]))
    return int(np.argmax(near)) - reach
