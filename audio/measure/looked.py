"""One block of a recording held against what was played: how well each place explains it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy import fft

from audio.measure.cable import Cable, Grid, sliding_energy
from audio.measure.tape import Tape

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Spectrum = NDArray[np.complex128]

_MOST_LEEWAY = 0.45
"""Frames that an uncertain delay may be off before a frame's slip explains it as well."""

_MOST_OFF = 2.0
"""Frames: further away a parabola says nothing."""

_USUAL = 1.25
"""What a block leaves unexplained, over what is expected, when all is as it should be. Where a frame more
or less would leave half as much again, the block is plain: it lies where it is expected."""

_SPILT = 1e-4
"""Power over its surroundings' under which a block holds little but what the filters spill into it, where a
path's slightest turn of phase counts as frames: −40 dB. Found on riffs that begin at a block's end."""

_LEEWAY = 3.0
"""Standard deviations of the expected delay within which nothing has moved."""


class Spectra(NamedTuple):
    """What was played and recorded around a block."""

    start: int
    """Frame of the recording at which the block begins."""
    center: int
    """Whole frames by which the former is earlier."""
    played: Spectrum
    recorded: Spectrum


@dataclass(frozen=True)
class _Near:
    """A block at the expected delay and beside it."""

    here: float
    none: float
    off: float
    bend: float
    """Second derivative of what is left unexplained."""
    settled: bool


@dataclass(frozen=True)
class Looked:
    """What a block says. Powers are sums over the block of whitened samples."""

    near: _Near
    heard: Floats
    """(block,) whitened."""
    around: Floats
    """(size,) the copy and its surroundings, whitened."""
    turned: Spectrum
    """Their spectrum."""
    spectrum: Spectrum
    """Of what was played around it."""
    late: float
    """Fraction of a frame by which that was turned."""
    grid: Grid

    @property
    def here(self) -> float:
        """What the expected delay leaves, at its best within what is uncertain of it."""
        return self.near.here

    @property
    def none(self) -> float:
        """The block itself."""
        return self.near.none

    @property
    def off(self) -> float:
        """Frames that the block lies later than expected."""
        return self.near.off

    @property
    def plain(self) -> bool:
        """Whether the block is so plain that it can be nowhere but at the expected delay."""
        return self.near.settled

    @property
    def expected(self) -> Floats:
        """(block,) the copy, whitened."""
        return self.around[self.grid.reach : self.grid.reach + self.grid.block]

    @cached_property
    def left(self) -> Floats | None:
        """(2 · furthest + 1,) what each shift leaves unexplained, from the earliest on; None where plain.

        Worked out when it is asked for: it costs as much as all the rest.
        """
        if self.plain:
            return None
        grid = self.grid
        placed = np.zeros(grid.size)
        placed[grid.reach : grid.reach + grid.block] = self.heard
        both = fft.irfft(fft.rfft(placed) * np.conj(self.turned), grid.size)
        both = np.concatenate((both[-grid.furthest :], both[: grid.furthest + 1]))
        return np.maximum(self.none - 2.0 * both + sliding_energy(self.around, grid), 0.0)

    @cached_property
    def scale(self) -> float:
        """How much more than expected the best explanation leaves, 1 or more."""
        least = self.here
        if self.left is not None:
            least = min(float(np.min(self.left)), least, self.none)
        return max(1.0, least / (self.grid.counted * self.grid.block))

    @property
    def information(self) -> float:
        """1 over the variance of `off`; 0 where it cannot be told."""
        return self.near.bend / (2.0 * self.scale)

    @cached_property
    def spilt(self) -> bool:
        """Whether what the block should hold comes from its surroundings: it then says nothing."""
        copy = self.expected
        return float(copy @ copy) < _SPILT * float(self.around @ self.around)

    @property
    def says_more_than_none(self) -> bool:
        """Whether a copy explains the block better than none, by however little."""
        return self.none > self.here

    @property
    def evidence(self) -> float:
        """Natural logarithm of how much better a copy explains the block than none."""
        return (self.none - self.here) / (2.0 * self.scale)


class Pair:
    """What was played and what was recorded, block by block.

    Parameters
    ----------
    grid
        Lengths of the rate.
    kept
        Frames of the recording that can be had again.
    """

    def __init__(self, grid: Grid, *, kept: int) -> None:
        self._grid = grid
        self.played = Tape(kept + 4 * grid.size)
        self.heard = Tape(kept)

    def recorded(self, start: int) -> Floats:
        """Return the (size,) recorded around the block that begins at a frame."""
        return self.heard.take(start - self._grid.reach, self._grid.size)

    def around(self, start: int, center: int) -> Floats:
        """Return the (size,) that was played around a block of the recording, `center` frames earlier."""
        grid = self._grid
        return self.played.take(start - grid.reach - center, grid.size)

    def look(self, cable: Cable, start: int, *, delay: float, spread: float) -> Looked:
        """Hold a block against all shifts.

        Parameters
        ----------
        cable
            What is known of the path.
        start
            Frame of the recording at which the block begins.
        delay
            Frames, as expected.
        spread
            Its standard deviation.

        Returns
        -------
        Looked
            What the block says.
        """
        around = self.spectra(start, round(delay))
        return self.held(cable, around, delay=delay, spread=spread)

    def spectra(self, start: int, center: int) -> Spectra:
        """Return the spectra around the block that begins at a frame, what was played `center` earlier."""
        played, recorded = self.around(start, center), self.recorded(start)
        return Spectra(start, center, fft.rfft(played), fft.rfft(recorded))

    def held(self, cable: Cable, around: Spectra, *, delay: float, spread: float) -> Looked:
        """Hold a block against all shifts, as `look` does, whose spectra are known already.

        Parameters
        ----------
        cable
            What is known of the path.
        around
            What was played and recorded, `center` being the whole frames of the delay.
        delay
            Frames, as expected.
        spread
            Its standard deviation.

        Returns
        -------
        Looked
            What the block says.
        """
        late = delay - around.center
        heard = cable.heard(around.recorded)
        turned = cable.expected(around.played, late)
        expected = fft.irfft(turned, self._grid.size)
        return Looked(
            near=self._near(heard, expected, spread),
            heard=heard,
            around=expected,
            turned=turned,
            spectrum=around.played,
            late=late,
            grid=self._grid,
        )

    def _near(self, heard: Floats, expected: Floats, spread: float) -> _Near:
        """Hold a block against the expected delay and a frame to either side."""
        grid = self._grid
        left = []
        for by in (-1, 0, 1):
            apart = heard - expected[grid.reach - by : grid.reach - by + grid.block]
            left.append(float(apart @ apart))
        before, at, behind = left
        bend = max(before - 2.0 * at + behind, 0.0)
        off = (before - behind) / (2.0 * bend) if bend > 0.0 else 0.0
        most = min(_LEEWAY * spread, _MOST_LEEWAY)
        step = min(max(off, -most), most)
        here = max(at + 0.5 * (behind - before) * step + 0.5 * bend * step**2, 0.0)
        truth = grid.counted * grid.block
        return _Near(
            here=here,
            none=float(heard @ heard),
            off=min(max(off, -_MOST_OFF), _MOST_OFF),
            bend=bend,
            settled=here < _USUAL * truth and bend > truth,
        )

    def explained(self, cable: Cable, starts: list[int], *, delay: float) -> Floats:
        """Return, for each frame of some blocks, how much better a copy at a delay explains it than none.

        Parameters
        ----------
        cable
            What is known of the path.
        starts
            Where the blocks begin, one behind the other.
        delay
            Frames.

        Returns
        -------
        NDArray[np.float64]
            (blocks · block,) evidence, natural logarithm.
        """
        grid, rows = self._grid, []
        for start in starts:
            around = self.spectra(start, round(delay))
            heard = cable.heard(around.recorded)
            turned = cable.expected(around.played, delay - around.center)
            expected = fft.irfft(turned, grid.size)[grid.reach : grid.reach + grid.block]
            rows.append(heard * expected - 0.5 * expected**2)
        return np.concatenate(rows) if rows else np.zeros(0)
