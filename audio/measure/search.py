"""Where is the copy at all? Blocks are compared with what was played until one place stands out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure.cable import Grid, band_noise, sliding_energy

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CLEAR = 25.0
"""Natural logarithm by which a copy must explain the recording better than none: some 10 000 Gaussian
values pass it once in ten million times. Music that is no copy may pass, and is let go again when what
follows does not fit."""

_LEAD = 14.0
"""The same by which the best shift must lead the best of those further away than `_NEAR_S`."""

_NEAR_S = 0.0002
_FEWEST = 24
"""Blocks that sound before a place is believed: one note alone looks alike a period later."""
_SOUNDING = 0.01
"""Power over the loudest block's from which on a block counts as sounding: −20 dB."""
_FAINT = 1e-4
"""Power over the loudest block's of the recording under which a block says nothing: −40 dB."""
_BEFORE_MUSIC = 0.03
"""The same under which all blocks so far say nothing: −15 dB. Whitened by its own noise, a rest just before
the music, hum in it or not, would outweigh all that follows."""
_LEAST_ENERGY = 1e-9
"""Where less was played, over the most at any shift, it is rounding."""
_MOST_GAIN = 10.0
"""A path that is louder by more than 20 dB is no cable: where it seems so, hum was likened to hum."""
_MOST_ALIKE = 1.0 - 1e-6


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
        self._heard_loudest = 0.0
        self._start_over()

    def _start_over(self) -> None:
        grid = self._grid
        self._curve = np.zeros(2 * grid.furthest + 1)
        self._energy = np.zeros(2 * grid.furthest + 1)
        self._power = 0.0
        self._noise: Floats | None = None
        self._blocks = 0
        self._loudest, self._sounding = 0.0, 0

    def add(self, recorded: Floats, surroundings: Floats) -> None:
        """Take the (size,) around a block of the recording and the (size,) that was played around it."""
        grid = self._grid
        block = recorded[grid.reach : grid.reach + grid.block]
        power = float(block @ block)
        if power < _FAINT * self._heard_loudest:
            return
        if _BEFORE_MUSIC * power > self._heard_loudest:
            self._start_over()
        self._heard_loudest = max(self._heard_loudest, power)
        noise = band_noise(block, grid)
        share = 1.0 / (self._blocks + 1)
        self._noise = noise if self._noise is None else (1 - share) * self._noise + share * noise
        self._blocks += 1
        loud = float(surroundings @ surroundings)
        self._loudest = max(self._loudest, loud)
        self._sounding += loud > _SOUNDING * self._loudest
        density = np.interp(grid.log_hz, grid.middles, np.log(self._noise))
        white = grid.band * np.exp(-0.5 * density)
        # Whitened before it is cut: a loud bass cut off hard would drown the treble that is lifted.
        heard = fft.irfft(fft.rfft(recorded) * white, grid.size)
        heard[: grid.reach] = heard[grid.reach + grid.block :] = 0.0
        played = fft.rfft(surroundings) * white
        curve = fft.irfft(fft.rfft(heard) * np.conj(played), grid.size)
        self._curve += np.roll(curve, grid.furthest)[: 2 * grid.furthest + 1]
        self._energy += sliding_energy(fft.irfft(played, grid.size), grid)
        self._power += float(heard @ heard)

    def found(self, *, last: bool) -> Found | None:
        """Return the place once it stands out, at the `last` chance in however little there was.

        With the gain that fits best, a shift leaves 1 − c² of the power, c being the correlation over
        the root of both energies; how likely it is goes with the logarithm of that.
        """
        if self._noise is None or self._power <= 0.0 or (self._sounding < _FEWEST and not last):
            return None
        there = self._energy > _LEAST_ENERGY * float(np.max(self._energy))
        there &= np.abs(self._curve) < _MOST_GAIN * self._energy
        likeness = np.zeros(self._curve.size)
        np.divide(self._curve**2, self._energy * self._power, out=likeness, where=there)
        free = self._blocks * self._grid.block * self._grid.counted
        told = -0.5 * free * np.log1p(-np.minimum(likeness, _MOST_ALIKE))
        best = int(np.argmax(told))
        away = np.abs(np.arange(told.size) - best) > self._near
        if told[best] < CLEAR or told[best] - float(np.max(told[away])) < _LEAD:
            return None
        gain = float(self._curve[best] / self._energy[best])
        return Found(shift=best - self._grid.furthest, gain=gain, noise=self._noise)
