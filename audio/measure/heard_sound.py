"""One sound over a stretch, and the DI beside it, measured while they come in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.loudness import RunningLoudness
from audio.measure.played_echo import RunningComb
from audio.measure.rests import Rest, RunningRests
from audio.measure.rings import CELLS_A_SECOND
from audio.measure.running import Gathered, RunningLevels, window_frames
from audio.measure.third_rows import RunningThirds
from audio.measure.true_peak import RunningTruePeak
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

_PLAYS_DB = 25.0
"""Half seconds of the DI within this of its loudest count as playing."""
_LOUD_DB = 20.0
"""Those in which a peak stands over the playing: quieter ones hold the noise's."""
CREST_S = 0.4
"""Long enough for the lowest string, short enough for a rest to stay out of it."""


class Cells:
    """Peak and mean square of each 10 ms.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self.frames = rate // CELLS_A_SECOND
        self._gathered = Gathered(self.frames)
        self._peaks: list[Floats] = []
        self._squares: list[Floats] = []

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound."""
        cells = self._gathered.add(piece).reshape(-1, self.frames)
        self._peaks.append(np.max(np.abs(cells), axis=1, initial=0.0))
        self._squares.append(np.einsum("cf,cf->c", cells, cells) / self.frames)

    def peaks(self) -> Floats:
        """Return the largest absolute sample of each whole cell so far, (cells,)."""
        return np.concatenate([np.zeros(0), *self._peaks])

    def squares(self) -> Floats:
        """Return the mean square of each, (cells,)."""
        return np.concatenate([np.zeros(0), *self._squares])


class RunningDi:
    """The DI: where it plays, stops and rests.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._rate = rate
        self._cells = Cells(rate=rate)
        self._levels = RunningLevels(rate=rate)
        self.comb = RunningComb(rate=rate)

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of sound."""
        self._cells.feed(piece)
        self._levels.feed(piece)
        self.comb.feed(piece)

    def squares(self) -> Floats:
        """Return the mean square of each 10 ms, (cells,)."""
        return self._cells.squares()

    def levels_dbfs(self) -> tuple[float, ...]:
        """Return the level of each 50 ms."""
        return self._levels.levels_dbfs()

    def playing(self, rows: int) -> Bools:
        """Return in which of so many rows of `RunningThirds` it plays, (rows,)."""
        squares = self.squares()
        loud = np.array([np.mean(squares[slice(*self._row(at))]) for at in range(rows)])
        return _within(loud, _PLAYS_DB)

    def loud(self) -> Bools:
        """Return in which windows of `CREST_S`, one behind the other, it plays loud, (windows,)."""
        return _within(np.mean(crest_windows(self.squares()), axis=1), _LOUD_DB)

    def _row(self, at: int) -> tuple[int, int]:
        """Return the first cell of a row, and the cell behind its last."""
        first = at * (self._rate // 2)
        return first // self._cells.frames, (first + self._rate) // self._cells.frames


class RunningSound:
    """All that is measured of one sound.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._hop = rate // 10
        self._gathered = Gathered(self._hop)
        self._frames, self._square, self._peak = 0, 0.0, 0.0
        self._true_peak = RunningTruePeak(rate=rate)
        self._levels = RunningLevels(rate=rate)
        self._rests = RunningRests(window=window_frames(rate=rate), rate=rate)
        self.loudness = RunningLoudness(rate=rate)
        self.cells = Cells(rate=rate)
        self.thirds = RunningThirds(rate=rate)
        self.comb = RunningComb(rate=rate)

    def feed(self, piece: NDArray[np.float64]) -> None:
        """Take the next (frames,) of sound, linear, full scale 1.0."""
        self._frames += piece.size
        self._square += float(np.einsum("f,f->", piece, piece))
        self._peak = max(self._peak, float(np.max(np.abs(piece), initial=0.0)))
        takers = (self._true_peak, self._levels, self._rests, self.cells, self.thirds, self.comb)
        for taker in takers:
            taker.feed(piece)
        hops = self._gathered.add(piece)
        if hops.size:
            self.loudness.feed(hops.reshape(-1, self._hop))

    def peaks_dbfs(self) -> tuple[float, float]:
        """Return the peak of the samples, dBFS, and that between them, dBTP."""
        return db_from_ratio(self._peak), self._true_peak.dbtp()

    def rms_dbfs(self) -> float:
        """Return the RMS of all of it."""
        return db_from_ratio(float(np.sqrt(self._square / max(self._frames, 1))))

    def still(self, di: RunningDi) -> dict[int, float]:
        """Return the mean square of each half second that rests, by its number."""
        return self._rests.still(di.levels_dbfs(), self._levels.levels_dbfs())

    def rest(self, number: int, still: dict[int, float]) -> Rest:
        """Return what it is in one of them."""
        return self._rests.at(number, still)

    def weighted_rows(self, rows: int) -> Floats:
        """Return the K-weighted mean square of each row of `RunningThirds`, (rows,)."""
        powers = self.loudness.powers()
        return np.array([np.mean(powers[5 * at : 5 * at + 10]) for at in range(rows)])

    def crests_db(self) -> Floats:
        """Return the peak over the RMS in each window of `CREST_S`, dB, (windows,)."""
        peaks = np.max(crest_windows(self.cells.peaks()), axis=1)
        power = np.mean(crest_windows(self.cells.squares()), axis=1)
        tiny = 1e-20
        return np.asarray(10.0 * np.log10(np.maximum(peaks**2, tiny) / np.maximum(power, tiny)))


def rests_of(di: RunningDi, a: RunningSound, b: RunningSound) -> tuple[Rest | None, Rest | None]:
    """Return what two sounds are in the same half second: that in which both are quietest.

    Where there is none in which both are still, what one is alone; nothing where each is still somewhere
    else: what dies away in one would be held against the noise of the other.
    """
    first, second = a.still(di), b.still(di)
    both = sorted(first.keys() & second.keys())
    if both:
        at = min(both, key=lambda one: first[one] * second[one])
        return a.rest(at, first), b.rest(at, second)
    if first and not second:
        return a.rest(min(first, key=lambda one: first[one]), first), None
    if second and not first:
        return None, b.rest(min(second, key=lambda one: second[one]), second)
    return None, None


def crest_windows(cells: Floats) -> Floats:
    """Return cells in whole windows of `CREST_S`, (windows, cells)."""
    size = round(CREST_S * CELLS_A_SECOND)
    return cells[: cells.size // size * size].reshape(-1, size)


def _within(power: Floats, db: float) -> Bools:
    """Return what lies within so many decibels of the largest; nothing where all is silence."""
    largest = float(np.max(power, initial=0.0))
    return np.asarray((power >= largest * 10.0 ** (-db / 10.0)) & (largest > 0.0))
