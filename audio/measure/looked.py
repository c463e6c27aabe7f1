"""One block of a recording held against what was played: how well each place explains it."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

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

_ROUNDS = 5
_NEAR_ENOUGH = 0.5
"""Frames: further off, what is wrong with the delay would be taken for the path."""

_LEEWAY = 3.0
"""Standard deviations of the expected delay within which nothing has moved."""


@dataclass(frozen=True)
class Looked:
    """What a block says. Powers are sums over the block of whitened samples."""

    left: Floats | None
    """(2 · furthest + 1,) what each shift leaves unexplained, from the earliest on; None where the block
    is so plain that it can be nowhere but at the expected delay."""
    here: float
    """What the expected delay leaves, at its best within what is uncertain of it."""
    none: float
    """The block itself."""
    scale: float
    """How much more than expected the best explanation leaves, 1 or more."""
    off: float
    """Frames that the block lies later than expected."""
    information: float
    """1 over the variance of `off`; 0 where it cannot be told."""
    heard: Floats
    """(block,) whitened."""
    expected: Floats
    """(block,) the copy, whitened."""
    spectrum: Spectrum
    """Of what was played around it."""
    late: float
    """Fraction of a frame by which that was turned."""
    spilt: bool
    """Whether what the block should hold comes from its surroundings: it then says nothing."""

    @property
    def evidence(self) -> float:
        """Natural logarithm of how much better a copy explains the block than none."""
        return (self.none - self.here) / (2.0 * self.scale)


@dataclass(frozen=True)
class _Near:
    """A block at the expected delay and beside it."""

    here: float
    none: float
    off: float
    bend: float
    """Second derivative of what is left unexplained."""
    settled: bool


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
        grid = self._grid
        center = round(delay)
        spectrum = fft.rfft(self.around(start, center))
        heard = cable.heard(self.recorded(start))
        turned = cable.expected(spectrum, delay - center)
        expected = fft.irfft(turned, grid.size)
        near = self._near(heard, expected, spread)
        wide = None if near.settled else self._wide(heard, turned, expected, near.none)
        least = near.here if wide is None else min(float(np.min(wide)), near.here, near.none)
        scale = max(1.0, least / (grid.counted * grid.block))
        copy = expected[grid.reach : grid.reach + grid.block]
        return Looked(
            left=wide,
            here=near.here,
            none=near.none,
            scale=scale,
            off=near.off,
            information=near.bend / (2.0 * scale),
            heard=heard,
            expected=copy,
            spectrum=spectrum,
            late=delay - center,
            spilt=float(copy @ copy) < _SPILT * float(expected @ expected),
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

    def _wide(self, heard: Floats, turned: Spectrum, expected: Floats, none: float) -> Floats:
        """Return what each shift leaves unexplained."""
        grid = self._grid
        placed = np.zeros(grid.size)
        placed[grid.reach : grid.reach + grid.block] = heard
        both = fft.irfft(fft.rfft(placed) * np.conj(turned), grid.size)
        both = np.concatenate((both[-grid.furthest :], both[: grid.furthest + 1]))
        return np.maximum(none - 2.0 * both + sliding_energy(expected, grid), 0.0)

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
            center = round(delay)
            heard = cable.heard(self.recorded(start))
            turned = cable.expected(fft.rfft(self.around(start, center)), delay - center)
            expected = fft.irfft(turned, grid.size)[grid.reach : grid.reach + grid.block]
            rows.append(heard * expected - 0.5 * expected**2)
        return np.concatenate(rows) if rows else np.zeros(0)


@dataclass(frozen=True)
class Taught:
    """A path, and how well it explains the blocks it was learned from."""

    cable: Cable
    delay: float
    evidence: tuple[float, ...]
    """Of each block, natural logarithm of how much better the copy explains it than none."""


def taught(pair: Pair, cable: Cable, starts: list[int], *, delay: float) -> Taught:
    """Learn a path that was just found from some blocks.

    Parameters
    ----------
    pair
        Where the blocks are.
    cable
        What is known; stays as it is.
    starts
        Frames of the recording at which they begin.
    delay
        Frames, known to 20 either way.

    Returns
    -------
    Taught
        The path, and the delay, frames.
    """
    cable = copy.copy(cable)
    for turn in range(_ROUNDS):
        looks = [pair.look(cable, start, delay=delay, spread=0.0) for start in starts]
        looks = [look for look in looks if look.evidence > 0.0 and not look.spilt]
        if not looks:
            break
        off = _common_shift(looks)
        # The path first: what a block sounds like, whitened, depends on what is known of the noise.
        if turn > 0 and abs(off) < _NEAR_ENOUGH:
            off = _learned(cable, looks, off)
        left = [look.heard - look.expected for look in looks]
        cable.learn_noise(left, [look.expected for look in looks], share=1.0)
        delay += off
    return judged(pair, cable, starts, delay=delay)


def judged(pair: Pair, cable: Cable, starts: list[int], *, delay: float) -> Taught:
    """Return a path as it is, with how well it explains some blocks at a delay, frames."""
    looks = [pair.look(cable, start, delay=delay, spread=0.0) for start in starts]
    said = tuple(0.0 if look.spilt else max(look.evidence, 0.0) for look in looks)
    return Taught(cable, delay, said)


def _learned(cable: Cable, looks: list[Looked], off: float) -> float:
    """Teach a path from blocks that lie about `off` frames later than expected; return how many they do."""
    late = cable.learn_anew([(look.heard, look.spectrum, look.late) for look in looks])
    if late is not None:
        return late
    for look in looks:
        cable.learn_path(look.heard, look.spectrum, look.late)
    return off


def _common_shift(looks: list[Looked]) -> float:
    """Return by how many frames some blocks together lie later than expected, 20 at most."""
    plain = [look for look in looks if look.left is None]
    if plain:
        weights = [look.information for look in plain]
        return float(np.average([look.off for look in plain], weights=weights))
    curves = [look.left / look.scale for look in looks if look.left is not None]
    middle = curves[0].size // 2
    total = np.sum(curves, axis=0)[middle - 21 : middle + 22]
    best = int(np.clip(np.argmin(total), 1, total.size - 2))
    before, at, behind = (float(total[best + k]) for k in (-1, 0, 1))
    bend = before - 2.0 * at + behind
    return best - 21 + ((before - behind) / (2.0 * bend) if bend > 0.0 else 0.0)
