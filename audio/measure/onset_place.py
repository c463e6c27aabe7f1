"""Where exactly a hit begins: the first motion of a strike that what sounded before does not foretell.

Strings that ring are foretold well from their own past by linear prediction; what is left is noise, until
somebody strikes. From the strongest moment of what is left the search walks back as long as something
stands out, so that the strike's first motion is found, not the loudest; what is far softer and goes before
it is the pick that touches the string, and no part of it. (Prediction before picking a first arrival is
common practice in seismology: Sleeman and van Eck 1999, Phys. Earth Planet. Inter. 113; thresholds are
ours.)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy.fft import irfft, next_fast_len, rfft

if TYPE_CHECKING:
    from numpy.typing import NDArray

_BEFORE_MS, _BEHIND_MS = 60.0, 21.0
"""How much sound is looked at before and behind the place at which a hit is expected."""
_UNTOUCHED_MS = 25.0
"""What teaches the prediction ends so long before it."""
_CLOSE_MS = 4.0
"""The same once the first motion is nearly known."""
_ORDER = 24
_WHITE = 1e-7
"""White noise added to what teaches: without it a pure tone cannot be solved for."""
_STEP_MS = 0.25
_FROM_STEP, _TO_STEP = -32, 80
"""Where the strongest moment is sought, steps from the expected place."""
_OVER_DB = 3.0
"""First motion stands so far over what was left before the hit."""
_UNDER_PEAK_DB = 18.0
"""A motion so far under the strongest is a hand or a pick that touches, not yet the hit."""
_USUAL_STEPS = 120
"""What was left before the hit is looked at for 30 ms: more than two periods of the lowest string."""
_GAP_STEPS = 64
"""Quiet so long before a motion makes it the first: 16 ms, a period of the lowest string tuned down."""
_CHUNK = 256
_TINY = 1e-18


@dataclass(frozen=True, kw_only=True)
class Places:
    """What is known of each expected hit; all of shape (hits,)."""

    frame: NDArray[np.float64]
    """First motion, frames of the samples given."""
    over_usual_db: NDArray[np.float64]
    """The strongest of what is left, over its median in 50 ms before."""


def place(samples: NDArray[np.float32], expected: NDArray[np.int64], *, rate: float) -> Places:
    """Return where each expected hit begins.

    Parameters
    ----------
    samples
        Shape (frames,), at about 24 kHz.
    expected
        Shape (hits,), frames, ascending; right to some 10 ms.
    rate
        Frames a second.

    Returns
    -------
    Places
        As many as were expected.
    """
    reach = round((_BEFORE_MS + _BEHIND_MS) * rate / 1e3) + _ORDER
    # Noise goes on before the first frame: were it silent there, it would begin with the file.
    held = np.pad(samples, reach, mode="symmetric")
    parts = [
        _chunk(held, expected[at : at + _CHUNK], rate)
        for at in range(0, max(1, expected.size), _CHUNK)
    ]
    frame, over = np.concatenate(parts, axis=1)
    return Places(frame=frame, over_usual_db=over)


def _chunk(
    held: NDArray[np.float32], expected: NDArray[np.int64], rate: float
) -> NDArray[np.float64]:
    found = _motion(held, expected, _UNTOUCHED_MS, rate)
    closer = np.maximum(0, np.round(found[0]).astype(np.int64))
    again = _motion(held, closer, _CLOSE_MS, rate)
    found[0] = np.where(again[0] <= closer + rate / 1e3, again[0], found[0])
    found[1:] = again[1:]
    return found


def _motion(
    held: NDArray[np.float32], expected: NDArray[np.int64], untouched_ms: float, rate: float
) -> NDArray[np.float64]:
    """Return first motion and how far it stands out, shape (2, hits); what teaches ends so long before."""
    before, behind = round(_BEFORE_MS * rate / 1e3), round(_BEHIND_MS * rate / 1e3)
    # The sound is longer at both ends by as much as a piece is long.
    pieces = sliding_window_view(held, before + behind + _ORDER)[expected + behind]
    taught = before + _ORDER - round(untouched_ms * rate / 1e3)
    left = _left_over(pieces, _predictor(pieces[:, :taught]))
    step = max(1, round(_STEP_MS * rate / 1e3))
    first, over = _first_motion(left, before // step, step, round(untouched_ms / _STEP_MS))
    return np.stack((expected - before + first, over))


def _predictor(taught: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the prediction-error filters, shape (pieces, order + 1), by Levinson's recursion."""
    size = taught.shape[1]
    padded = next_fast_len(size + _ORDER + 1, real=True)
    spectra = rfft(taught * np.hanning(size), padded)
    r: NDArray[np.float64] = irfft(spectra.real**2 + spectra.imag**2, padded)[:, : _ORDER + 1]
    r[:, 0] += _WHITE * r[:, 0] + _TINY
    filters = np.zeros_like(r)
    filters[:, 0] = 1.0
    error = r[:, 0].copy()
    for n in range(1, _ORDER + 1):
        turn = -np.einsum("ij,ij->i", filters[:, :n], r[:, n:0:-1]) / error
        filters[:, 1 : n + 1] += turn[:, None] * filters[:, n - 1 :: -1][:, :n]
        error *= np.maximum(1.0 - turn**2, 1e-9)
    return filters


def _left_over(pieces: NDArray[np.float32], filters: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return what prediction leaves, shape (pieces, frames); its first frames have no past and are cut."""
    size = next_fast_len(pieces.shape[1] + _ORDER, real=True)
    taps = rfft(filters.astype(np.float32), size)
    left: NDArray[np.float32] = irfft(rfft(pieces, size) * taps, size)
    return left[:, _ORDER : pieces.shape[1]]


def _first_motion(
    left: NDArray[np.float32], middle: int, step: int, untouched: int
) -> tuple[NDArray[np.float64], NDArray[np.float32]]:
    """Return the first motion (frames), and how far the strongest moment stands over what was before."""
    levels = _levels(left, step)
    rows = np.arange(len(levels))
    strongest = (
        middle + _FROM_STEP + np.argmax(levels[:, middle + _FROM_STEP : middle + _TO_STEP], axis=1)
    )
    peak = levels[rows, strongest]
    long_before = np.sort(levels[:, middle - untouched - _USUAL_STEPS : middle - untouched], axis=1)
    over = long_before[:, int(0.97 * long_before.shape[1])] + _OVER_DB
    over = np.maximum(over, peak - _UNDER_PEAK_DB)
    at = _walk_back(levels > over[:, None], strongest)
    fine = _fine(left, at * step, over, step)
    before = levels[:, 12 : middle - min(untouched, 32)]
    return fine, peak - np.median(before, axis=1)


def _levels(left: NDArray[np.float32], step: int) -> NDArray[np.float32]:
    """Return the mean power of two steps from each on, dB, shape (pieces, steps)."""
    steps = left.shape[1] // step
    cut = left[:, : steps * step].reshape(len(left), steps, step)
    power = np.einsum("ijk,ijk->ij", cut, cut)
    means = (power[:, 1:] + power[:, :-1]) / np.float32(2 * step)
    levels: NDArray[np.float32] = 10.0 * np.log10(means + np.float32(_TINY))
    return levels


def _walk_back(over: NDArray[np.bool_], strongest: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the last step, up to the strongest, that stands out and has quiet before it."""
    count = np.cumsum(over, axis=1, dtype=np.int64)
    before = np.zeros_like(count)
    before[:, 1:] = count[:, :-1]
    before[:, _GAP_STEPS + 1 :] -= count[:, : -_GAP_STEPS - 1]
    early = np.arange(over.shape[1]) <= strongest[:, None]
    begins = np.logical_and(np.logical_and(over, before == 0), early)
    last = over.shape[1] - 1 - np.argmax(begins[:, ::-1], axis=1)
    return np.where(begins.any(axis=1), last, strongest)


def _fine(
    left: NDArray[np.float32], at: NDArray[np.int64], over_db: NDArray[np.float32], step: int
) -> NDArray[np.float64]:
    """Return the first frame of those steps that stands out by itself."""
    index = np.minimum(at[:, None] + np.arange(step * (3)), left.shape[1] - 1)
    size = np.abs(np.take_along_axis(left, index, axis=1))
    out = size >= 10.0 ** (over_db / 20.0)[:, None]
    inside = np.where(out.any(axis=1), np.argmax(out, axis=1), step)
    return at.astype(np.float64) + inside
