"""Where is the copy at all? Blocks are compared with what was played until one place stands out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.cable import Grid, band_noise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Spectrum = NDArray[np.complex128]

CLEAR = 7.0
"""Height of the correlation over its RMS in noise, or at most other shifts, from which on it counts: some
10 000 Gaussian values pass 7 once in ten million times. Music that is no copy may pass, and is let go again
when what follows does not fit."""

_LEAD = 14.0
"""Natural logarithm by which the best shift must lead the best of those further away than `_NEAR_S`."""

_NEAR_S = 0.0002
_MEDIAN_OF_GAUSS = 0.6745


@dataclass(frozen=True)
class Found:
    """Where the copy is."""

    shift: int
    """Frames the recording is later than was assumed."""
    gain: float
    """Its sign is the polarity."""
    noise: Floats
    """(bands,) power of a sample of the recording."""


class Search:
    """Correlation of a recording and what was played, added up over blocks.

    Both are whitened by the recording's own spectrum, so that hum and hiss count as little as they tell.

    Parameters
    ----------
    grid
        Lengths of the rate.
    rate
        Frames a second.
    """

    def __init__(self, grid: Grid, *, rate: int) -> None:
        self._grid = grid
        self._near = max(2, round(_NEAR_S * rate))
        self._cross = np.zeros(grid.size // 2 + 1, dtype=complex)
        self._played = np.zeros(grid.size // 2 + 1)
        self._noise: Floats | None = None
        self.blocks = 0

    def add(self, block: Floats, surroundings: Floats) -> None:
        """Take a (block,) of the recording and the (size,) that was played around it."""
        grid = self._grid
        noise = band_noise(block, grid)
        share = 1.0 / (self.blocks + 1)
        self._noise = noise if self._noise is None else (1 - share) * self._noise + share * noise
        self.blocks += 1
        placed = np.zeros(grid.size)
        placed[grid.reach : grid.reach + grid.block] = block
        played = fft.rfft(surroundings)
        self._cross += fft.rfft(placed) * np.conj(played)
        self._played += np.abs(played) ** 2

    def found(self) -> Found | None:
        """Return the place once it stands out."""
        if self._noise is None:
            return None
        grid = self._grid
        density = np.interp(grid.log_hz, grid.middles, np.log(self._noise))
        white = grid.band**2 * np.exp(-density)
        curve = fft.irfft(self._cross * white, grid.size)
        curve = np.roll(curve, grid.furthest)[: 2 * grid.furthest + 1]
        # The expected height of a copy of gain 1: its energy while a block lasts.
        energy = float(fft.irfft(self._played * white, grid.size)[0]) * grid.block / grid.size
        return self._judge(curve, energy, self._noise)

    def _judge(self, curve: Floats, energy: float, noise: Floats) -> Found | None:
        height = np.abs(curve)
        if energy <= 0.0 or not np.any(height):
            return None
        spread = max(float(np.sqrt(energy)), float(np.median(height)) / _MEDIAN_OF_GAUSS)
        best = int(np.argmax(height))
        away = np.abs(np.arange(height.size) - best) > self._near
        second = float(np.max(height[away]))
        top = float(height[best])
        lead = (top**2 - second**2) / (2.0 * spread**2)
        if top < CLEAR * spread or lead < _LEAD:
            return None
        shift = best - self._grid.furthest
        return Found(shift=shift, gain=float(curve[best]) / energy, noise=noise)
