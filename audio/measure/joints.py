"""Where a recording goes over into another one of the same playing, and by what gains.

The gains keep the power of the sum: for two recordings of equal power and correlation r, g1·x + g2·y has
g1² + g2² + 2·r·g1·g2 times their power (the square written out). Ramps a and b divided by
√(a² + b² + 2·r·a·b) make that 1 all through: for r = 0 it is an equal-power fade, for r = 1 a plain one,
which an equal-power fade would lift by 3 dB.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.fades import rise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_CORRELATION = -0.5
"""Gains stay under 2/√3, 1.2 dB, down to here; what is turned further cancels in any fade."""

ALIKE = 0.5
"""Correlation from which two recordings may tell by themselves how far they lie apart."""

_AROUND = 4
"""Fades' lengths over which two recordings are compared around a joint."""

_AFTER_S = 0.04
"""Behind a joint: an attack here hides what goes on before it (common practice, no source)."""

_MOST_RISE_DB = 20.0
_RISE_SHARE = 0.5
_AWAY_DB_PER_S = 12.0
"""What a joint may be worse by to lie a second nearer to the section's border."""

_FLOOR = 1e-9
"""Difference under which two recordings are one, −90 dB under their mean."""

_SEARCH_S = 0.02
_LONGEST_S = 10.0


def gains(correlation: float, frames: int) -> tuple[Floats, Floats]:
    """Return the gains of a fade from one recording into another.

    Parameters
    ----------
    correlation
        Of the two, −1 to 1; under `LEAST_CORRELATION` it counts as that.
    frames
        Length of the fade, at least 1.

    Returns
    -------
    tuple of NDArray[np.float64]
        (frames,) of the one that goes and of the one that comes; steep nowhere, ends without a step.
    """
    comes = rise(frames)
    goes = 1.0 - comes
    r = min(max(correlation, LEAST_CORRELATION), 1.0)
    norm = np.sqrt(goes**2 + comes**2 + 2.0 * r * goes * comes)
    return goes / norm, comes / norm


def correlation_at(one: Floats, other: Floats, at: int, *, fade: int) -> float:
    """Return the correlation of two recordings around a frame, −1 to 1; 0 where one is silent."""
    x, y, weights = _around(one, other, at, fade)
    power = float(np.sqrt((weights @ x**2) * (weights @ y**2)))
    return float(weights @ (x * y)) / power if power > 0.0 else 0.0


def level_db_at(one: Floats, other: Floats, at: int, *, around: int) -> float:
    """Return the level of the other over the one's around a frame, dB; 0 where one is silent."""
    x, y = (s[max(at - around, 0) : at + around] for s in (one, other))
    a, b = float(np.dot(x, x)), float(np.dot(y, y))
    return 10.0 * float(np.log10(b / a)) if a > 0.0 and b > 0.0 else 0.0


def best_joint(
    ones: Sequence[Floats], others: Sequence[Floats], *, border: int, fade: int, rate: int
) -> int:
    """Choose where going over shows least: little difference, a quiet spot, an attack behind it.

    Parameters
    ----------
    ones
        (frames,) of each return of the one recording around the border.
    others
        The same stretch of the other.
    border
        Frame near which it should be.
    fade
        Length of the fade; it lies within the stretch wherever its middle is chosen.
    rate
        Frames a second.

    Returns
    -------
    int
        Middle of the fade, the same for all returns.
    """
    size = ones[0].size
    half, after = fade // 2 + 1, round(_AFTER_S * rate)
    places = np.arange(half, max(size - half, half + 1), max(rate // 1000, 1))
    # The border itself is a candidate: where all places are alike it is the one.
    places = np.unique(np.append(places, min(max(border, half), max(size - half, half))))
    odd, there, then = (np.zeros(places.size) for _ in range(3))
    for x, y in zip(ones, others, strict=True):
        both = x**2 + y**2
        mean = max(float(np.mean(both)), 1e-20)
        odd += _mean((x - y) ** 2, places - half, places + half) / mean
        there += _mean(both, places - half, places + half) / mean
        then += _mean(both, places + half, places + half + after) / mean
    cost = 10.0 * np.log10(odd + _FLOOR)
    rises = 10.0 * np.log10((then + _FLOOR) / (there + _FLOOR))
    cost -= _RISE_SHARE * np.clip(rises, 0.0, _MOST_RISE_DB)
    cost += _AWAY_DB_PER_S * np.abs(places - border) / rate
    return int(places[int(np.argmin(cost))])


def apart(one: Floats, other: Floats, *, rate: int) -> float | None:
    """Return by how many frames the other comes later, within 20 ms; None where they are not alike."""
    longest = round(_LONGEST_S * rate)
    x, y = one[:longest], other[:longest]
    power = float(np.sqrt(np.dot(x, x) * np.dot(y, y)))
    if power <= 0.0:
        return None
    size, reach = 1 << (2 * x.size).bit_length(), round(_SEARCH_S * rate)
    cross = np.fft.irfft(np.conj(np.fft.rfft(x, size)) * np.fft.rfft(y, size), size)
    near = np.concatenate((cross[-reach:], cross[: reach + 1])) / power
    top = int(np.argmax(near))
    if near[top] < ALIKE or top in (0, near.size - 1):
        return None
    left, here, right = (float(value) for value in near[top - 1 : top + 2])
    bend = left - 2.0 * here + right
    return top - reach + (0.5 * (left - right) / bend if bend < 0.0 else 0.0)


def _around(one: Floats, other: Floats, at: int, fade: int) -> tuple[Floats, Floats, Floats]:
    half = _AROUND * fade // 2
    first, last = max(at - half, 0), min(at + half, one.size)
    weights = np.hanning(max(last - first, 1) + 2)[1:-1]
    return one[first:last], other[first:last], weights[: last - first]


def _mean(power: Floats, first: NDArray[np.int64], last: NDArray[np.int64]) -> Floats:
    total = np.concatenate(([0.0], np.cumsum(power)))
    begin, end = (np.clip(at, 0, power.size) for at in (first, last))
    mean: Floats = np.maximum(total[end] - total[begin], 0.0) / np.maximum(end - begin, 1)
    return mean
