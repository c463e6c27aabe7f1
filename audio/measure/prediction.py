"""What linear prediction leaves of a signal, block by block.

The difference of neighbouring samples is predicted, not the samples: that takes 40 dB and more off what
single precision has to carry. Each block has coefficients of its own, from the autocorrelation of twice its
length under a Hann window (Makhoul 1975), solved by Levinson and Durbin's recursion.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

ORDER = 24
_BLOCK = 1024
"""Frames of a block up to 48 kHz: 21 ms."""
_ROW = 64
_LOADING = 1e-6
"""White noise that is added, as a share of the power: the rounding of single precision stays under it."""
_LEAST = 1e-28


@dataclass(frozen=True, kw_only=True)
class Predicted:
    """Some blocks of a signal and what was left of them."""

    first_frame: int
    block: int
    """Frames of a block."""
    residual: Singles
    """(blocks · block,) · from `first_frame` on."""
    coefficients: Singles
    """(blocks, ORDER + 1) · the first is 1; residual = coefficients ∗ difference."""


def block_frames(*, rate: int) -> int:
    """Return the frames of a block, a power of two."""
    return int(_BLOCK * 2 ** max(0, round(float(np.log2(rate / 48_000)))))


def predicted(samples: Singles, *, first: int, blocks: int, rate: int) -> Predicted:
    """Return what prediction leaves of some blocks; what lies outside the signal counts as its end held.

    Parameters
    ----------
    samples
        (frames,) · linear · the whole signal, one frame at least.
    first
        Number of the first block; may be below zero.
    blocks
        How many, one at least.
    rate
        Frames a second.

    Returns
    -------
    Predicted
        The same for a block, whichever others it is asked for with.
    """
    block = block_frames(rate=rate)
    reach = block // 2
    difference = _difference(samples, first * block - reach, (blocks + 1) * block)
    coefficients = _coefficients(difference, block)
    return Predicted(
        first_frame=first * block,
        block=block,
        residual=_residual(difference[reach - ORDER :], coefficients, block),
        coefficients=coefficients,
    )


def _difference(samples: Singles, start: int, frames: int) -> Singles:
    """Return the differences of neighbours from `start` on, zeros where there are none."""
    out = np.zeros(frames, dtype=np.float32)
    low, high = max(start, 1), min(start + frames, samples.shape[0])
    if high > low:
        np.subtract(
            samples[low:high], samples[low - 1 : high - 1], out=out[low - start : high - start]
        )
    return out


def _coefficients(difference: Singles, block: int) -> Singles:
    pieces = np.lib.stride_tricks.sliding_window_view(difference, 2 * block)[::block]
    spectra = fft.rfft(pieces * _window(2 * block), axis=1)
    power = spectra.real**2 + spectra.imag**2
    # A Hann window ends in zeros: the transform's own wrapping round does not count.
    # Double from here on: the sums of single precision depend on how many blocks are asked for at once.
    return _levinson(power.astype(np.float64) @ _cosines(2 * block))


def _levinson(correlation: Floats) -> Singles:
    """Return the predictors' coefficients for rows of autocorrelation, (rows, ORDER + 1) both."""
    correlation[:, 0] = correlation[:, 0] * (1.0 + _LOADING) + _LEAST
    filters = np.zeros_like(correlation)
    filters[:, 0] = 1.0
    left = correlation[:, 0].copy()
    for order in range(1, ORDER + 1):
        foretold = np.einsum("ij,ij->i", filters[:, :order], correlation[:, order:0:-1])
        # Rounding must not make a filter that grows: its reflections stay under one.
        reflection = np.clip(-foretold / left, -0.9999, 0.9999)
        turned = filters[:, order - 1 :: -1] if order else filters
        filters[:, 1 : order + 1] += reflection[:, None] * turned[:, :order].copy()
        left *= 1.0 - reflection**2
    return filters.astype(np.float32)


def _residual(difference: Singles, coefficients: Singles, block: int) -> Singles:
    """Return each block through its own filter; `difference` begins ORDER frames before the first."""
    blocks, item = coefficients.shape[0], difference.itemsize
    rows = np.lib.stride_tricks.as_strided(
        difference,
        (blocks, block // _ROW, _ROW + ORDER),
        (block * item, _ROW * item, item),
        writeable=False,
    )
    # A row times a band matrix is a row filtered; products of matrices are what processors do fastest.
    padded = np.zeros((blocks, 2 * _ROW + ORDER), dtype=np.float32)
    padded[:, _ROW - 1 : _ROW + ORDER] = coefficients[:, ::-1]
    band = np.lib.stride_tricks.as_strided(
        padded[:, _ROW - 1 :],
        (blocks, _ROW + ORDER, _ROW),
        (padded.strides[0], item, -item),
        writeable=False,
    )
    left = np.matmul(np.ascontiguousarray(rows), np.ascontiguousarray(band))
    return np.asarray(left.reshape(-1))


@lru_cache(maxsize=4)
def _window(frames: int) -> Singles:
    turn = 2.0 * np.pi * np.arange(frames) / frames
    return np.asarray(0.5 - 0.5 * np.cos(turn), dtype=np.float32)


@lru_cache(maxsize=4)
def _cosines(frames: int) -> Floats:
    """Return what makes autocorrelation of power: (bins, ORDER + 1)."""
    bins = np.arange(frames // 2 + 1)
    weights = np.where((bins == 0) | (bins == frames // 2), 1.0, 2.0) / frames
    turns = np.cos(2.0 * np.pi * np.outer(bins, np.arange(ORDER + 1)) / frames)
    return np.asarray(weights[:, None] * turns)
