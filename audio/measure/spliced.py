"""A stretch of a recording that is not what it should be, though what follows is, and what it is instead.

Lost frames that were put back, a block that was repeated, a dropout: nothing lies elsewhere afterwards. But
the path is known from the blocks around, so the recording can be foretold down to its noise, as it is and
as it would be so many frames earlier or later. A guitar is much like itself a period away, yet never down
to the noise: a piece is told to lie elsewhere where what remains there is noise, and where it is nowhere
else. The pieces are the most likely sequence of such places (Viterbi 1967; Forney 1973, The Viterbi
algorithm, both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from audio.measure.cable import BLOCK_FRAMES
from audio.measure.foretold import CELL_FRAMES, TAPS, Cells, Foretold, Path, Where

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audio.measure.cable import Grid
    from audio.measure.looked import Pair

    Floats = NDArray[np.float64]

_FLOOR = 2.0
"""What a place leaves, over the noise, up to which nothing but noise is left: 62 values of noise scatter by
18 %, so a single cell passes this once in 10**6."""
_STRANGE = 4.0
"""The same from which on no place explains a cell."""
_TURN = 20.0
"""Evidence, natural logarithm, that a change of place costs. A piece has two: 40 for some 12 000 places and
some 10**5 cells of five minutes leave noise a chance of one in 10**8."""
_LEAD = 12.0
"""Evidence by which a place must lead all others before its frames are told."""
_LIKELY = 4.0
"""Where it turns: what is less likely by more than this belongs to the last 2 %."""
_FEWEST = 2
"""Cells of a piece: the ones at its ends hold the splice itself."""
_BROKEN = 60.0
"""What the known place leaves, over the noise, added up over cells, from which on a stretch that nothing
explains is told: a foretold attack is now and then off by a tenth of this."""
_AUDIBLE = 1e-3
"""Nor is it told where what is left stays under so much of the loudest cell around, −30 dB: attacks reach
up to where a path is known less well."""


Kind = Literal["counted", "moved", "silent", "strange"]


class Turn(NamedTuple):
    """Where the recording goes to another place."""

    by: int
    """Frames later."""
    first: int
    """Frame of the recording before which it has not."""
    last: int
    """Frame of the recording from which on it has, or what was inserted begins."""
    late: int
    """Frames the recording is later just before than around the stretch."""


@dataclass(frozen=True)
class Stretch:
    """A stretch that is not what it should be. Frames are the recording's."""

    first: int
    """Before here all is in place."""
    last: int
    """From here on all is in place."""
    kind: Kind
    """``counted``: it lies elsewhere, as `turns` tell; ``moved``: elsewhere, but no telling by how many
    frames; ``silent``; ``strange``: none of these."""
    turns: tuple[Turn, ...] = ()


def stretches(
    pair: Pair,
    grid: Grid,
    *,
    rate: int,
    first: int,
    last: int,
    delay: int,
    reach: int,
    gain: float,
    sides: tuple[Sequence[int], Sequence[int]],
) -> list[Stretch]:
    """Tell what a part of a recording is.

    Parameters
    ----------
    pair
        What was played and recorded.
    grid
        Lengths of the rate.
    rate
        Frames a second.
    first
        Frame of the recording from which on something is wrong; a block begins there.
    last
        Frame of the recording from which on nothing is; likewise.
    delay
        Whole frames of the delay around there.
    reach
        Frames, how far either way frames may have been lost or inserted; 0 looks for silence only.
    gain
        Of the copy, linear, about.
    sides
        Where blocks begin that are as they should be, before it and behind: one or more in all.

    Returns
    -------
    list of Stretch
        In order; none where all is in place, or where the path is another behind it.
    """
    cells = Cells(CELL_FRAMES * grid.block // BLOCK_FRAMES)
    where = Where(rate, middle=(first + last) // 2, delay=delay)
    path = Path(pair, cells, where, block=grid.block, gain=gain)
    if not path.learn(sides) or np.max(path.left(first, last)) < _FLOOR:
        return []
    held = _Held(path.foretell(first, last, reach=reach), cells, reach)
    return _told(held, begins=first)


@dataclass(frozen=True)
class _Held:
    """A part of a recording beside what it should be, and what each place costs."""

    part: Foretold
    cells: Cells
    reach: int
    """Frames, how far is looked either way."""

    @property
    def silence(self) -> int:
        """Number of the place that is none; the one of a shift is `reach` more than the shift."""
        return 2 * self.reach + 1

    @property
    def nowhere(self) -> float:
        """What a cell costs that nothing explains."""
        return 0.5 * _STRANGE * self.cells.free

    def left(self, shift: int) -> Floats:
        """Return (cells,) the power that a shift leaves, over the noise's."""
        at = self.reach - shift
        foretold = self.part.expected[at : at + self.part.heard.size]
        power = np.sum((self.part.heard - self.cells.straightened(foretold)) ** 2, axis=1)
        return np.asarray(power / (self.part.noise * self.cells.free))

    def cost(self, shift: int) -> Floats:
        """Return (cells,) what a shift costs, natural logarithm."""
        return np.minimum(0.5 * self.cells.free * self.left(shift), self.nowhere)

    @property
    def silent(self) -> Floats:
        """(cells,) what silence costs, likewise."""
        power = np.sum(self.part.heard**2, axis=1)
        return np.asarray(np.minimum(power / (2.0 * self.part.noise), self.nowhere))

    def costs(self) -> NDArray[np.float32]:
        """Return (cells, 2 · reach + 2): what each shift costs, from the earliest on, then silence."""
        frames, shifts = self.cells.frames, self.silence
        sums = np.concatenate(([0.0], np.cumsum(self.part.expected**2)))
        energy = np.asarray(sums[frames:] - sums[:-frames])
        for line in self.cells.lines.T:
            energy -= np.correlate(self.part.expected, line, "valid") ** 2
        costs = np.empty((len(self.part.heard), shifts + 1), dtype=np.float32)
        for cell, heard in enumerate(self.part.heard):
            at, power = cell * frames, float(heard @ heard)
            both = np.correlate(self.part.expected[at : at + shifts + frames - 1], heard, "valid")
            left = power - 2.0 * both + energy[at : at + shifts]
            costs[cell, :shifts] = left[::-1]  # what comes later was foretold for an earlier frame
            costs[cell, shifts] = power
        costs /= (2.0 * self.part.noise).astype(np.float32)[:, np.newaxis]
        return np.minimum(costs, np.float32(self.nowhere))


class _Run(NamedTuple):
    """Cells in a row at one place."""

    place: int
    first: int
    behind: int


def _told(held: _Held, *, begins: int) -> list[Stretch]:
    """Return what is wrong between the cells that are where they are known to be."""
    at_home, frames, costs = held.left(0), held.cells.frames, held.costs()
    outer = [
        _Run(held.reach, 0, 0),
        *_runs(costs, _likeliest(costs, known=held.reach), held),
        _Run(held.reach, at_home.size, at_home.size),
    ]
    home = [number for number, run in enumerate(outer) if run.place == held.reach]
    told = []
    for one, other in pairwise(home):
        inner, first, last = outer[one + 1 : other], outer[one].behind, outer[other].first
        if not inner and not _is_broken(at_home, first, last, held):
            continue
        kind = _kind(costs, inner, held)
        turns = _turns(outer[one : other + 1], held, begins) if kind == "counted" else ()
        told.append(Stretch(begins + first * frames, begins + last * frames, kind, turns))
    return told


def _is_broken(at_home: Floats, first: int, last: int, held: _Held) -> bool:
    """Return whether some cells that nothing explains are worth a word."""
    if first == last:
        return False
    there = slice(first, last)
    power = at_home[there] * held.part.noise[there] * held.cells.free
    loudest = np.max(np.sum(held.part.heard**2, axis=1))
    return bool(np.sum(at_home[there]) > _BROKEN and np.max(power) > _AUDIBLE * loudest)


def _likeliest(costs: NDArray[np.float32], *, known: int) -> list[int]:
    """Return the likeliest place of each cell; a change costs `_TURN`, and all began and ends as known."""
    turn = np.float32(_TURN)
    outset = np.full(costs.shape[1], turn)
    outset[known] = 0.0
    total = outset + costs[0]
    came = np.zeros(costs.shape, dtype=bool)
    best = np.zeros(len(costs), dtype=np.int64)
    for cell in range(1, len(costs)):
        best[cell] = int(np.argmin(total))
        turned = total[best[cell]] + turn
        came[cell] = turned < total
        total = np.minimum(total, turned) + costs[cell]
    place = int(np.argmin(total + outset))
    places = [place]
    for cell in range(len(costs) - 1, 0, -1):
        place = int(best[cell]) if came[cell, place] else place
        places.append(place)
    return places[::-1]


def _runs(costs: NDArray[np.float32], places: Sequence[int], held: _Held) -> list[_Run]:
    """Return the runs that leave nothing but noise; cells that nothing explains are in none."""
    runs: list[_Run] = []
    for cell, place in enumerate(places):
        if costs[cell, place] >= held.nowhere:
            continue
        if runs and runs[-1].place == place and runs[-1].behind == cell:
            runs[-1] = _Run(place, runs[-1].first, cell + 1)
        else:
            runs.append(_Run(place, cell, cell + 1))
    long = [run for run in runs if run.behind - run.first >= _FEWEST]
    return [
        run if run.place == held.reach else _Run(_settled(costs, run, held), *run[1:])
        for run in long
        if run.place == held.reach or _is_noise(costs, run, held)
    ]


def _is_noise(costs: NDArray[np.float32], run: _Run, held: _Held) -> bool:
    """Return whether a run leaves nothing but noise at its place, and more at the known one."""
    inside, floor = costs[run.first : run.behind], 0.5 * _FLOOR * held.cells.free
    return bool(np.mean(inside[:, run.place]) < floor < np.mean(inside[:, held.reach]))


def _settled(costs: NDArray[np.float32], run: _Run, held: _Held) -> int:
    """Return the place of a run, silence where that does as well."""
    return held.silence if _leads(costs, run)[held.silence] < _LEAD else run.place


def _leads(costs: NDArray[np.float32], run: _Run) -> Floats:
    """Return (places,) by how much each costs more; of the outer cells the one that says more is left out.

    A splice lies in one of them, and there a wrong place may do by chance.
    """
    inside = costs[run.first : run.behind].astype(np.float64)
    more = inside - inside[:, run.place, np.newaxis]
    return np.asarray(np.sum(more, axis=0) - np.maximum(more[0], more[-1]))


def _kind(costs: NDArray[np.float32], runs: Sequence[_Run], held: _Held) -> Kind:
    kinds = {_kind_of_run(costs, run, held) for run in runs}
    order: tuple[Kind, ...] = ("moved", "counted", "silent")
    return next((kind for kind in order if kind in kinds), "strange")


def _kind_of_run(costs: NDArray[np.float32], run: _Run, held: _Held) -> Kind:
    """Return whether a run lies at its place and nowhere else."""
    if run.place == held.silence:
        return "silent"
    leads = _leads(costs, run)
    silent = leads[held.silence]
    leads[[run.place, held.silence]] = np.inf
    # Silence is one place against thousands: what it leaves must be far more.
    return "counted" if np.min(leads) > _LEAD and silent > 2.0 * _TURN else "moved"


def _turns(runs: Sequence[_Run], held: _Held, begins: int) -> tuple[Turn, ...]:
    """Return each change of place from one run to the next, silence between left out."""
    there = [run for run in runs if run.place != held.silence]
    turns, frames = [], held.cells.frames
    blur = max(frames, TAPS // 2)  # it lies in a cell on either side
    for one, other in pairwise(there):
        by = other.place - one.place
        if not by:
            continue
        likely = _where(held, one, other, by // frames)
        first, last = (begins + (one.first + cell) * frames for cell in likely)
        turns.append(Turn(by, first - blur, last + blur, one.place - held.reach))
    return tuple(turns)


def _where(held: _Held, one: _Run, other: _Run, gap: int) -> tuple[int, int]:
    """Return the first and last cell from the first run's beginning on before which it may turn.

    Where frames were inserted, silence may lie between: `gap` cells of it, if there are any.
    """
    inside = slice(one.first, other.behind)
    early = held.cost(one.place - held.reach)[inside]
    late = held.cost(other.place - held.reach)[inside]
    before = np.concatenate(([0.0], np.cumsum(early)))
    after = np.concatenate((np.cumsum(late[::-1])[::-1], [0.0]))
    total = before + after
    if 0 < gap < total.size:
        silence = np.concatenate(([0.0], np.cumsum(held.silent[inside])))
        total[:-gap] = np.minimum(
            total[:-gap], before[:-gap] + silence[gap:] - silence[:-gap] + after[gap:]
        )
    likely = np.flatnonzero(total <= np.min(total) + _LIKELY)
    return int(likely[0]), int(likely[-1])
