"""The test click: a short band-limited pulse, and the train of clicks that measures a round trip.

The pulse is the difference of two smooth bumps with the same area: a narrow one, a sinc under a
Blackman-Harris window, that reaches up to 0.4 of the rate or 18 kHz, and a Hann bump of 3 ms, that
takes the direct current and the mains out. It is a function of time, so it can be evaluated exactly
between frames; what it would fold over at half the rate lies more than 70 dB down.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from audio.vocab.errors import UseError
from audio.vocab.results import ClickTrain
from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from numpy.typing import NDArray

PULSE_S = 0.003
"""Length of the whole pulse, seconds."""

LATEST_S = 0.25
"""Latest round trip that a train can measure, seconds."""

MOST_CLICKS = 8

_QUIET_S = 0.252
_WAIT_S = 0.290
"""From the last click's centre to the end: the latest arrival and what a cabinet makes of it."""

_GAPS_MS = (151, 233, 179, 263, 197, 211, 167)
"""Between clicks. Primes, and all sums of neighbours differ: no echo of one click falls on another
two at the same distance, and no period of the mains fits two of them."""

_NARROW_S = 0.0005
_BLACKMAN_HARRIS = (0.35875, 0.48829, 0.14128, 0.01168)
"""Harris 1978, Proc. IEEE 66(1), 4-term window with side lobes 92 dB down (from memory)."""


def pulse(at_frames: NDArray[np.float64], *, rate: int) -> NDArray[np.float64]:
    """Evaluate the pulse, peak 1.0 at frame 0, at any fractional frames.

    Parameters
    ----------
    at_frames
        Any shape · frames from the pulse's centre, fractional · any value; zero outside 1.5 ms.
    rate
        Frames a second, 44 100 to 192 000.

    Returns
    -------
    NDArray[np.float64]
        Same shape · linear amplitude · −1 to 1.
    """
    share = _share_of_wide(rate)
    return (_narrow(at_frames, rate) - share * _wide(at_frames, rate)) / (1.0 - share)


def half_frames(*, rate: int) -> int:
    """Return how many frames on each side of its centre hold the whole pulse at `rate`."""
    return int(np.ceil(PULSE_S / 2 * rate))


def click_train(
    *, rate: int, level_dbfs: float, clicks: int
) -> tuple[NDArray[np.float64], ClickTrain]:
    """Make a click train: silence, clicks of alternating sign, and room for the latest arrival.

    Parameters
    ----------
    rate
        Frames a second, 44 100 to 192 000.
    level_dbfs
        Peak of every click, dBFS · at most 0.
    clicks
        How many · 1 to 8 · 2 last 0.7 s, 8 last 2 s.

    Returns
    -------
    tuple[NDArray[np.float64], ClickTrain]
        (frames,) mono signal, linear, and everything needed to find it again.

    Raises
    ------
    UseError
        When a value is out of its range.
    """
    problem = _nonsense(rate, level_dbfs, clicks)
    if problem is not None:
        raise UseError(problem)
    train = _plan(rate, level_dbfs, clicks)
    half = half_frames(rate=rate)
    one = ratio_from_db(level_dbfs) * pulse(np.arange(-half, half + 1, dtype=np.float64), rate=rate)
    signal = np.zeros(train.frames)
    for position, sign in zip(train.positions, train.signs, strict=True):
        signal[position - half : position + half + 1] += sign * one
    return signal, train


def _nonsense(rate: int, level_dbfs: float, clicks: int) -> str | None:
    if not 44_100 <= rate <= 192_000:
        return f"a test click needs a rate from 44100 to 192000, not {rate}"
    if not level_dbfs <= 0.0:
        return f"a test click cannot be louder than full scale, 0 dBFS, not {level_dbfs:g}"
    if not 1 <= clicks <= MOST_CLICKS:
        return f"a click train has 1 to {MOST_CLICKS} clicks, not {clicks}"
    return None


def _plan(rate: int, level_dbfs: float, clicks: int) -> ClickTrain:
    half = half_frames(rate=rate)
    quiet = int(np.ceil(_QUIET_S * rate))
    at_ms = np.concatenate(([0], np.cumsum(_GAPS_MS[: clicks - 1])))
    positions = tuple(quiet + half + round(int(ms) * rate / 1000) for ms in at_ms)
    return ClickTrain(
        sample_rate=rate,
        level_dbfs=level_dbfs,
        positions=positions,
        signs=tuple(1 if k % 2 == 0 else -1 for k in range(clicks)),
        frames=positions[-1] + int(np.ceil(_WAIT_S * rate)),
        quiet_frames=quiet,
    )


@cache
def _share_of_wide(rate: int) -> float:
    """Height of the wide bump that makes the frames of a pulse add up to zero."""
    half = half_frames(rate=rate)
    grid = np.arange(-half, half + 1, dtype=np.float64)
    return float(np.sum(_narrow(grid, rate)) / np.sum(_wide(grid, rate)))


def _narrow(at_frames: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
    edge_hz = 0.85 * min(0.4 * rate, 18_000.0)
    phase = 2.0 * np.pi * np.clip(at_frames / (rate * _NARROW_S), -0.5, 0.5)
    window = sum(a * np.cos(k * phase) for k, a in enumerate(_BLACKMAN_HARRIS))
    inside = np.abs(at_frames) < rate * _NARROW_S / 2
    return np.where(inside, window * np.sinc(2.0 * edge_hz / rate * at_frames), 0.0)


def _wide(at_frames: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
    phase = np.clip(at_frames / (rate * PULSE_S), -0.5, 0.5)
    return np.cos(np.pi * phase) ** 2
