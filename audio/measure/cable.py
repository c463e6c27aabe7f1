"""The path of a copy: what a cable, a DI box or a pair of converters does to a signal besides its delay.

Such a path is a gain, a high-pass far below the music, a gentle loss at the top. Over 250 Hz to 10 kHz four
numbers describe it: a constant, one and two powers of 1/s, one of s². What they leave unexplained, noise
and hum included, is measured band by band, and each band counts by how far the copy stands over it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Spectrum = NDArray[np.complex128]

BLOCK_FRAMES = 8192
"""Of the recording, at 44.1 and 48 kHz; as many milliseconds at higher rates."""

_SIZE = 20_480
_GUARD = 256
"""Frames within which the filters die away."""

_LOW_HZ, _HIGH_HZ = 250.0, 10_000.0
"""Below, a high-pass of the path turns phases; above, converters' filters differ and guitars say little."""

_BANDS = 24
_PRIORS = (0.05, 0.01, 0.003)
"""How far, over the gain, the other three numbers are expected to lie from 0: as for a high-pass of the
first order at 50 Hz, one of the second at 100 Hz, and 2 dB of loss at 10 kHz (common practice, no
source). What sounds clear of noise soon overrules them."""

_TOLD_APART = 0.01
"""Standard deviation, frames, up to which a delay and a path that turns phases are told from each other."""

_MEMORY = 0.97
_LEARNED = 0.1
_MOST_SURPRISED = 4.0
_ROUNDING = 2.0**-50 / 12.0
"""Power of 24-bit rounding, a little less: no noise is lower."""

_BELOW_COPY = 1e-5
"""Power of what is unexplained over the copy's own, at least: no path is known better than to −50 dB."""


@dataclass(frozen=True)
class Grid:
    """Lengths of a rate, and its frequencies."""

    block: int
    size: int
    """Of the transforms: a block with its surroundings."""
    reach: int
    """Frames on either side of the block."""
    furthest: int
    """Largest shift that is looked at, frames, either way."""
    band: Floats
    """(size // 2 + 1,) gain of the band that counts, 0 to 1."""
    omega: Floats
    """(size // 2 + 1,) radians a frame."""
    powers: Spectrum
    """(5, size // 2 + 1) the four shapes a path is made of, and what a frame of delay adds."""
    fade: Floats
    """(block,) Hann's window."""
    middles: Floats
    """(bands,) logarithms of the bands' frequencies, hertz."""
    log_hz: Floats
    """(size // 2 + 1,) of the transform's."""
    edges: NDArray[np.int64]
    """(bands + 1,) bins of a block's own transform between the bands."""

    @cached_property
    def counted(self) -> float:
        """Share of a block's samples that are independent: the band's width."""
        return float(np.mean(self.band**2))

    @classmethod
    def of(cls, *, rate: int) -> Grid:
        """Return the lengths for `rate` frames a second."""
        scale = 2 ** max(0, round(np.log2(rate / 48_000)))
        block, size = BLOCK_FRAMES * scale, _SIZE * scale
        reach = (size - block) // 2
        hz = np.maximum(fft.rfftfreq(size, 1.0 / rate), 1.0)
        slope = 1j * hz / 1000.0
        omega = 2.0 * np.pi * np.arange(size // 2 + 1) / size
        band = 1.0 / np.sqrt((1.0 + (_LOW_HZ / hz) ** 8) * (1.0 + (hz / _HIGH_HZ) ** 16))
        edges = np.geomspace(0.7 * _LOW_HZ, 1.2 * _HIGH_HZ, _BANDS + 1)
        return cls(
            block=block,
            size=size,
            reach=reach,
            furthest=reach - _GUARD * scale,
            band=np.where(hz > 20.0, band, 0.0),
            omega=omega,
            powers=np.stack((np.ones(hz.size), 1.0 / slope, 1.0 / slope**2, slope**2, -1j * omega)),
            fade=np.hanning(block),
            middles=np.log(np.sqrt(edges[1:] * edges[:-1])),
            log_hz=np.log(hz),
            edges=np.rint(edges * block / rate).astype(np.int64),
        )


class Cable:
    """What is known of the path so far.

    Parameters
    ----------
    grid
        Lengths of the rate.
    noise
        (bands,) power of a sample that nothing explains, as if each band's held everywhere.
    gain
        Of the copy, its sign included.
    """

    def __init__(self, grid: Grid, *, noise: Floats, gain: float) -> None:
        self._grid = grid
        self._noise = noise
        self._copy = np.zeros(_BANDS)
        self._numbers = np.asarray([gain, 0.0, 0.0, 0.0])
        self._matrix = np.zeros((5, 5))
        self._vector = np.zeros(5)
        self._late, self._turned = 0.0, np.ones(grid.omega.size, dtype=complex)
        self._shape()

    @property
    def gain(self) -> float:
        """Of the copy, linear, its sign included."""
        return float(self._numbers[0])

    @property
    def unsure_frames(self) -> float:
        """Standard deviation of a delay for what of it may be the path's own turning of phases."""
        if self._matrix[4, 4] <= 0.0:
            return 0.0
        cover = np.linalg.inv(self._matrix + self._prior())[4, 4] - 1.0 / self._matrix[4, 4]
        return float(np.sqrt(max(cover, 0.0)) / max(abs(self.gain), 1e-9))

    def heard(self, recorded: Spectrum) -> Floats:
        """Return the (block,) of a recording, whitened, from the spectrum of its (size,) surroundings."""
        grid = self._grid
        filtered = fft.irfft(recorded * self.white, grid.size)
        return np.asarray(filtered[grid.reach : grid.reach + grid.block])

    def expected(self, spectrum: Spectrum, late: float) -> Spectrum:
        """Return what the copy should be, whitened: the spectrum of the (size,) of what was played."""
        return np.asarray(spectrum * self._response * self._turn(late))

    def learn_noise(
        self, left: Sequence[Floats], copies: Sequence[Floats], *, share: float = _LEARNED
    ) -> None:
        """Learn from what was left unexplained of some (block,), whitened, beside the copies in them.

        `share` is what they count against what was known before, 0 to 1.
        """
        grid = self._grid
        white = np.interp(grid.middles, grid.log_hz, self.white) ** 2 + 1e-30
        ratio = np.mean([_band_powers(one, grid) for one in left], axis=0) / white
        there = np.mean([_band_powers(one, grid) for one in copies], axis=0) / white
        self._copy = (1.0 - share) * self._copy + share * there
        surprise = np.clip(ratio / self._noise, 0.0, _MOST_SURPRISED)
        self._noise = self._noise * (1.0 + share * (surprise - 1.0))
        self._noise = np.maximum(self._noise, _BELOW_COPY * self._copy + _ROUNDING)
        self._shape()

    def learn_path(self, heard: Floats, spectrum: Spectrum, late: float) -> None:
        """Learn from a whitened (block,) and what was played meanwhile."""
        self._remember(self._sums(heard, spectrum, late))
        self._shape()

    def learn_anew(self, blocks: Sequence[tuple[Floats, Spectrum, float]]) -> float | None:
        """Learn the path from some blocks, and from them alone their delay with it.

        Learned as if the delay were right, a fraction of a frame would pass for a high-pass. Where noise
        hides which is which, the path is learned as if it were, on top of what was known.

        Parameters
        ----------
        blocks
            For each: (block,) whitened, the spectrum of what was played, frames by which that was turned.

        Returns
        -------
        float | None
            Frames that all of them lie later than they were held to, a fraction of one; the path is as for
            that. None where that cannot be told.
        """
        known = self._matrix, self._vector
        sums = [self._sums(*block) for block in blocks]
        self._matrix = np.sum([matrix for matrix, _ in sums], axis=0)
        self._vector = np.sum([vector for _, vector in sums], axis=0)
        late = None
        if 0.0 < self.unsure_frames < _TOLD_APART:
            solved = np.linalg.solve(self._matrix + self._prior(), self._vector)
            self._vector -= self._matrix[:, 4] * solved[4]
            self._solve()
            late = float(solved[4] / solved[0])
        else:
            self._matrix, self._vector = known
            for one in sums:
                self._remember(one)
        self._shape()
        return late

    def _sums(self, heard: Floats, spectrum: Spectrum, late: float) -> tuple[Floats, Floats]:
        """Return what least squares need of a block: products of the shapes, and with what was heard."""
        grid = self._grid
        turned = spectrum * self.white * self._turn(late)
        rows = fft.irfft(turned * grid.powers, grid.size, axis=1)
        parts = rows[:, grid.reach : grid.reach + grid.block]
        return parts @ parts.T, parts @ heard

    def _remember(self, sums: tuple[Floats, Floats]) -> None:
        """Learn from what was summed over a block, and forget a little of what was known."""
        self._matrix = _MEMORY * self._matrix + sums[0]
        self._vector = _MEMORY * self._vector + sums[1]
        self._solve()

    def _turn(self, late: float) -> Spectrum:
        """Return the factor that makes a spectrum a fraction of a frame later; it seldom changes."""
        if late != self._late:
            self._late, self._turned = late, np.exp(-1j * self._grid.omega * late)
        return self._turned

    def _prior(self) -> Floats:
        wide = np.asarray(_PRIORS) * max(abs(self.gain), 1e-9)
        return np.diag(np.concatenate(([0.0], wide**-2.0, [0.0])))

    def _solve(self) -> None:
        if self._matrix[0, 0] > 0.0:
            matrix = self._matrix[:4, :4] + self._prior()[:4, :4]
            self._numbers = np.linalg.solve(matrix, self._vector[:4])

    def _shape(self) -> None:
        grid = self._grid
        noise = np.interp(grid.log_hz, grid.middles, np.log(self._noise))
        self.white = grid.band * np.exp(-0.5 * noise)
        self._response = (self._numbers @ grid.powers[:4]) * self.white


def _band_powers(block: Floats, grid: Grid) -> Floats:
    """Return the power of a sample in each band, as if that band's density held everywhere."""
    spectrum = np.abs(fft.rfft(block * grid.fade)) ** 2
    sums = np.add.reduceat(spectrum, grid.edges[:-1])
    return np.asarray(sums / np.diff(grid.edges) / (0.375 * block.size))


def band_noise(block: Floats, grid: Grid) -> Floats:
    """Return the power of a sample of a (block,) in each band, at least that of 24-bit rounding."""
    return np.maximum(_band_powers(block, grid), _ROUNDING)


def sliding_energy(expected: Floats, grid: Grid) -> Floats:
    """Return the energy of a (size,) signal while a block lasts, for each shift from the earliest on."""
    sums = np.concatenate(([0.0], np.cumsum(expected**2)))
    first, last = grid.reach - grid.furthest, grid.reach + grid.furthest + 1
    return np.asarray((sums[first + grid.block : last + grid.block] - sums[first:last])[::-1])
