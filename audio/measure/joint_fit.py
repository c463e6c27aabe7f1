"""Whether what prediction leaves around a frame is a step, a change of slope, or neither.

What is added to a signal from one frame on goes through the predictor: a step leaves the predictor's own
coefficients, a slope their running sum, a bend the sum of that. A string that is struck leaves another
shape.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.prediction import ORDER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Singles = NDArray[np.float32]

EARLIER, LATER = 6, 2
"""Frames before and behind the largest residual among which the joint's own is looked for."""
SPAN = ORDER + 1
"""Frames of the residual that are looked at."""
_PRICE = 12.0
"""Power over the residual's that one more number must explain before it is believed."""
_STEP, _SLOPE, _BOTH, _BENT = range(4)
_NUMBERS = np.array([1, 1, 2, 3])
_BREAKS = 3.0
"""Step over the residual's RMS from which the signal itself breaks, where its slope does, too."""


@dataclass(frozen=True)
class Fits:
    """What was found at each candidate; all (candidates,)."""

    shift: Ints
    """Frames from the candidate to the joint."""
    is_step: NDArray[np.bool_]
    size: Floats
    """The step, or the change of slope a frame, absolute, in the signal's unit."""
    clear: Floats
    """The fit's height over the residual's RMS: what a matched filter gives."""
    left: Floats
    """Share of the power around it that the fit does not explain, 0 to 1."""
    left_rms: Floats
    """RMS of that, over the residual's."""


def fits(around: Singles, coefficients: Singles, rms: Floats) -> Fits:
    """Fit joints to what prediction left.

    Parameters
    ----------
    around
        (candidates, EARLIER + LATER + SPAN) · the residual from `EARLIER` frames before each candidate.
    coefficients
        (candidates, ORDER + 1) · of the predictor there.
    rms
        (candidates,) · of the residual around it, above 0.

    Returns
    -------
    Fits
        For each the place and the kind that explain most.
    """
    shapes, base = _base(coefficients)
    scaled = around.astype(np.float64) / rms[:, None]
    windows = np.lib.stride_tricks.sliding_window_view(scaled, SPAN, axis=1)
    heights = np.einsum("cps,cms->cpm", windows, base)
    slope = np.einsum("cps,cs->cp", windows, shapes[:, 1] / _length(shapes[:, 1]))
    power = heights**2
    explained = np.stack(
        (power[..., 0], slope**2, power[..., 0] + power[..., 1], np.sum(power, axis=-1)), axis=-1
    )
    gain = explained - _PRICE * _NUMBERS
    best = np.argmax(gain.reshape(gain.shape[0], -1), axis=1)
    place, model = np.divmod(best, 4)
    each = np.arange(place.size)
    whole = np.sum(windows[each, place] ** 2, axis=1)
    told = np.minimum(explained[each, place, model], whole)
    amounts = _amounts(windows[each, place], shapes, model)
    is_step = np.abs(amounts[:, 0]) >= np.where(model == _STEP, 0.0, _BREAKS)
    is_step &= model != _SLOPE
    return Fits(
        shift=place - EARLIER,
        is_step=is_step,
        size=np.abs(np.where(is_step, amounts[:, 0], amounts[:, 1])) * rms,
        clear=np.sqrt(told),
        left=(whole - told) / np.maximum(whole, 1e-30),
        left_rms=np.sqrt((whole - told) / (SPAN - _NUMBERS[model])),
    )


def _base(coefficients: Singles) -> tuple[Floats, Floats]:
    """Return the shapes that step, slope and bend leave, and the same made orthonormal."""
    step = coefficients.astype(np.float64)
    slope = np.cumsum(step, axis=1)
    shapes = np.stack((step, slope, np.cumsum(slope, axis=1)), axis=1)
    base = np.empty_like(shapes)
    for number in range(3):
        vector = shapes[:, number] / _length(shapes[:, number])
        for _ in range(2):  # once more: shapes that are nearly alike leave rounding behind
            for before in range(number):
                along = np.einsum("cs,cs->c", vector, base[:, before])
                vector = vector - along[:, None] * base[:, before]
        base[:, number] = vector / _length(vector)
    return shapes, base


def _length(rows: Floats) -> Floats:
    return np.asarray(np.sqrt(np.einsum("cs,cs->c", rows, rows))[:, None] + 1e-12)


def _amounts(windows: Floats, shapes: Floats, model: Ints) -> Floats:
    """Return how much of step, slope and bend is in each window, (candidates, 3), least squares."""
    wanted = np.array([[1, 0, 0], [0, 1, 0], [1, 1, 0], [1, 1, 1]], dtype=bool)[model]
    used = np.where(wanted[:, :, None], shapes, 0.0)
    products = np.einsum("cms,cns->cmn", used, used)
    # What is not used gets a one of its own, so that every row can be solved.
    products += np.eye(3) * np.where(wanted, 1e-12, 1.0)[:, None, :]
    sides = np.einsum("cms,cs->cm", used, windows)
    return np.asarray(np.linalg.solve(products, sides[:, :, None])[:, :, 0])
