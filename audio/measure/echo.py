"""How a chain repeats what is sent through it: the time from a click to its first repeat.

The clicks of a train stand at distances that share no sum, so a repeat of one never falls on the repeats of
others twice. What is found at one distance behind most of the clicks is an echo; what a room does in the
first few hundredths of a second, and a reverb, whose repeats stand close together everywhere, are not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.heard import Heard
from audio.vocab.results import ClickTrain, Echo
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHORTEST_S = 0.040
"""A nearer repeat is a room's, or a doubling that nobody sets to a note (common practice, no source)."""

FEWEST = 2
"""Clicks whose repeat must fall inside the recording: they set the longest echo, 1.5 s at eight clicks."""

_DIRECT_S = 0.030
"""What belongs to a click itself: loudspeaker and near walls."""

_BEFORE_S = 0.001
_CLEAR = 6.0
"""Strength over the RMS of what stands beside it, from which it counts."""

_LEAST = 0.05
"""Weakest first repeat, linear, against the click."""

_ALONE = 2.0
"""How much stronger it must be than anything that is no multiple of it: in a reverb nothing is."""

_NEAR_S = 0.004
"""A repeat's own width, and how far it may wander from click to click."""

_STEADY_S = 0.001
"""Scatter of single repeats over which there is no one time to be told."""

_LEAST_UNSURE_S = 0.0001


def find_echo(heard: Heard, train: ClickTrain) -> Echo | None:
    """Return the time of a chain's repeats, None where there is none that is clear.

    Parameters
    ----------
    heard
        The train as it came back.
    train
        What was played; fewer than `FEWEST` clicks tell nothing.

    Returns
    -------
    Echo | None
        Milliseconds with the half width of their 95 % interval.
    """
    rate = train.sample_rate
    if len(train.positions) < FEWEST:
        return None
    starts = np.asarray(train.positions) + heard.first - heard.before
    signs = np.ones(len(starts)) if heard.rectified else np.asarray(train.signs, dtype=np.float64)
    direct = _direct(heard.whole, starts, signs, rate=rate)
    likeness = _without(heard.whole, direct, starts, signs, rate=rate)
    rows, there = _rows(likeness, starts, signs)
    mean = _in_common(rows, there)
    mean[: round(SHORTEST_S * rate)] = 0.0
    mean[there < FEWEST] = 0.0
    at = int(np.argmax(np.abs(mean)))
    if not _stands_out(mean, at, rate=rate):
        return None
    return _told(rows[: there[at]], mean, at, rate=rate)


def _direct(
    whole: NDArray[np.float64], starts: NDArray[np.int64], signs: NDArray[np.float64], *, rate: int
) -> NDArray[np.float64]:
    """Return what the clicks themselves look like, from just before their arrival on."""
    before, length = round(_BEFORE_S * rate), round(_DIRECT_S * rate)
    pieces = (sign * whole[a - before : a + length] for a, sign in zip(starts, signs, strict=True))
    return np.asarray(np.mean(list(pieces), axis=0))


def _without(
    whole: NDArray[np.float64],
    direct: NDArray[np.float64],
    starts: NDArray[np.int64],
    signs: NDArray[np.float64],
    *,
    rate: int,
) -> NDArray[np.float64]:
    """Return how like a click each place is, the clicks themselves taken out: 1 is a click as loud."""
    before, rest = round(_BEFORE_S * rate), whole.copy()
    for at, sign in zip(starts, signs, strict=True):
        rest[at - before : at - before + direct.size] -= sign * direct
    size = rest.size + direct.size
    spectrum = np.fft.rfft(rest, size) * np.conj(np.fft.rfft(direct, size))
    like = np.fft.irfft(spectrum, size) / np.sum(direct**2)
    return np.asarray(np.roll(like, before)[: rest.size])  # by arrival, not by where a piece begins


def _rows(
    likeness: NDArray[np.float64], starts: NDArray[np.int64], signs: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return what follows each click, and how many clicks reach so far."""
    ends = likeness.size - starts
    longest = int(ends[FEWEST - 1])
    rows = np.zeros((starts.size, longest))
    for row, (at, sign) in enumerate(zip(starts, signs, strict=True)):
        piece = likeness[at : at + longest]
        rows[row, : piece.size] = sign * piece
    there = np.searchsorted(-ends, -np.arange(longest), side="left")
    return rows, there.astype(np.int64)


def _in_common(rows: NDArray[np.float64], there: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return what the clicks have in common: the mean, or where only two reach, what both have.

    Half of a neighbour's repeat is in the mean of two, at another distance: it would stand beside
    the true one.
    """
    mean = np.sum(rows, axis=0) / np.maximum(there, 1)
    pair = rows[:2, there == FEWEST]
    agree = np.sign(pair[0]) == np.sign(pair[1])
    mean[there == FEWEST] = np.where(agree, np.sign(pair[0]) * np.min(np.abs(pair), axis=0), 0.0)
    return np.asarray(mean)


def _stands_out(mean: NDArray[np.float64], at: int, *, rate: int) -> bool:
    """Return whether the strongest place is an echo: clear, and alone but for its multiples."""
    height, near = abs(float(mean[at])), round(_NEAR_S * rate)
    if height < _LEAST:
        return False
    beside = np.abs(mean)
    for multiple in range(1, mean.size // max(at, 1) + 1):
        middle = multiple * at
        beside[max(middle - multiple * near, 0) : middle + multiple * near + 1] = 0.0
    beside = beside[round(SHORTEST_S * rate) :]
    if not np.any(beside):
        return True
    noise = float(np.sqrt(np.mean(beside**2)))
    return height > _CLEAR * noise and height > _ALONE * float(np.max(beside))


def _told(
    rows: NDArray[np.float64], mean: NDArray[np.float64], at: int, *, rate: int
) -> Echo | None:
    """Return the echo at a place, as most of the clicks have it."""
    near, sign = round(_NEAR_S * rate), float(np.sign(mean[at]))
    pieces = sign * rows[:, max(at - near, 0) : at + near + 1]
    heights = np.max(pieces, axis=1)
    good = heights > 0.5 * abs(float(mean[at]))
    if 2 * np.count_nonzero(good) <= rows.shape[0]:
        return None
    places = np.argmax(pieces[good], axis=1) + max(at - near, 0)
    scatter = float(np.std(places)) / rate
    if scatter > _STEADY_S:
        return None
    unsure = max(2.0 * scatter / np.sqrt(places.size), _LEAST_UNSURE_S)
    return Echo(
        repeat_ms=1000.0 * float(np.mean(places)) / rate,
        plus_minus_ms=1000.0 * unsure,
        level_db=db_from_ratio(abs(float(mean[at]))),
    )
