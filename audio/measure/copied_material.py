"""Material of a DI that is the same, sample for sample, as an earlier stretch: a bar that was copied.

Landmarks are what a copy keeps at any gain: samples that are the largest for some milliseconds around.
Where the distances to the next ones agree, the samples are compared, and the stretch is followed to both
sides as far as it holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.finest import code_of
from audio.vocab.readiness import Repeat
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Singles = NDArray[np.float32]

SHORTEST_S = 0.25
"""A shorter stretch is not told."""
MOST_TOLD = 1000
_CELL = 128
"""A landmark is the largest of so many frames to both sides, up to 48 kHz: 2.7 ms."""
_NEXT = 5
"""Distances to the following landmarks that must agree."""
_PROBE = 48
"""Frames to both sides of a landmark that are compared first."""
_STEP = 8192
_CODES = 2.0
"""Codes by which a sample and its source may each be off: rounded, and dithered."""
_UNDER_PEAK = 1e-3
"""Share of the DI's peak over which landmarks stand: quieter is noise."""
_STEADY = 1.03
"""Largest over smallest peak of 25 ms up to which a stretch is a tone that was made, not played: a string
loses as much in a quarter of a second (common practice, no source)."""
_SAME_GAIN = 1e-6


def find_repeats(samples: NDArray[np.float32], *, rate: int) -> tuple[Repeat, ...]:
    """Find what was copied inside a DI.

    Parameters
    ----------
    samples
        (frames,) · linear, full scale 1.0 · the whole DI, mono, any length.
    rate
        Frames a second.

    Returns
    -------
    tuple[Repeat, ...]
        By frame, of at least 0.25 s, each later stretch once; the source ends before its copy begins. At
        most 1000. Digital silence, direct current and steady tones are none.
    """
    marks = _landmarks(samples, _CELL * max(1, round(rate / 48_000)))
    if marks.size <= _NEXT:
        return ()
    shortest, code = round(SHORTEST_S * rate), code_of(samples)
    at, of = _alike(samples, *_pairs(marks), code)
    found: list[Repeat] = []
    done = 0
    for later, earlier in zip(at.tolist(), of.tolist(), strict=True):
        if later < done or len(found) >= MOST_TOLD:
            continue
        match = _Match.between(samples, later, earlier, code)
        start, end = match.followed(samples, done)
        if end - start < shortest:
            continue
        done = end
        if not _steady(samples[start:end], rate // 40):
            found.append(match.told(start, end))
    return tuple(found)


# ------------------------------------------------------------------ what may be alike


def _landmarks(samples: Singles, cell: int) -> Ints:
    """Return the frames that are larger than all of `cell` frames to both sides, in order."""
    cells = samples.shape[0] // cell
    if cells < 3:
        return np.zeros(0, dtype=np.intp)
    tops = np.argmax(samples[: cells * cell].reshape(cells, cell), axis=1) + np.arange(cells) * cell
    tops = tops[1:-1]
    tops = tops[samples[tops] > _UNDER_PEAK * float(np.max(samples[tops]))]
    around = np.lib.stride_tricks.sliding_window_view(samples, 2 * cell + 1)
    kept = [
        some[np.max(around[some - cell], axis=1) <= samples[some]]
        for some in np.array_split(tops, -(-tops.size // 4096) or 1)
    ]
    return np.asarray(np.concatenate(kept), dtype=np.intp)


def _pairs(marks: Ints) -> tuple[Ints, Ints]:
    """Return landmarks and earlier ones followed by others at the same distances: the first such."""
    apart = np.diff(marks).astype(np.uint64)
    keys = np.zeros(apart.size - _NEXT + 1, dtype=np.uint64)
    for ahead in range(_NEXT):
        # A polynomial of the distances, modulo 2**64: what collides is told apart by its samples.
        keys = keys * np.uint64(0x9E3779B97F4A7C15) + apart[ahead : ahead + keys.size]
    order = np.argsort(keys, kind="stable")
    same = keys[order[1:]] == keys[order[:-1]]
    heads = np.concatenate(([0], np.where(same, 0, np.arange(1, order.size))))
    first = order[np.maximum.accumulate(heads)]
    copied = np.flatnonzero(first != order)
    later, earlier = marks[order[copied]], marks[first[copied]]
    by_frame = np.argsort(later, kind="stable")
    return later[by_frame], earlier[by_frame]


def _alike(samples: Singles, at: Ints, of: Ints, code: float) -> tuple[Ints, Ints]:
    """Return the pairs of which the samples around are alike but for their gain."""
    kept = (of >= _PROBE) & (at < samples.shape[0] - _PROBE)
    at, of = at[kept], of[kept]
    around = np.arange(-_PROBE, _PROBE + 1)
    likely = np.zeros(at.size, dtype=bool)
    for low in range(0, at.size, 4096):
        some = slice(low, low + 4096)
        one, two = samples[at[some, None] + around], samples[of[some, None] + around]
        gain = np.sum(one * two, axis=1) / np.sum(two * two, axis=1)
        off = np.max(np.abs(one - gain[:, None] * two), axis=1)
        likely[some] = off < 2.0 * _CODES * code * (1.0 + gain) + 1e-5 * np.max(one, axis=1)
    return at[likely], of[likely]


# ------------------------------------------------------------------ followed


@dataclass
class _Match:
    """Two places that are alike, and by which gain."""

    at: int
    of: int
    gain: float
    code: float

    @classmethod
    def between(cls, samples: Singles, at: int, of: int, code: float) -> _Match:
        one = samples[at - _PROBE : at + _PROBE + 1].astype(np.float64)
        two = samples[of - _PROBE : of + _PROBE + 1].astype(np.float64)
        return cls(at, of, float(np.dot(one, two) / np.dot(two, two)), code)

    def followed(self, samples: Singles, done: int) -> tuple[int, int]:
        """Return where the later stretch begins, not before `done`, and ends, without zeros at its ends."""
        lag = self.at - self.of
        lowest = max(done, lag, self.at - lag)
        back = self._holds(samples, self.at - 1, lowest - 1, -1)
        highest = min(samples.shape[0], self.at - back + lag)
        ahead = self._holds(samples, self.at, highest, 1)
        sounding = np.flatnonzero(samples[self.at - back : self.at + ahead])
        if not sounding.size:
            return self.at, self.at
        start = self.at - back
        return start + int(sounding[0]), start + int(sounding[-1]) + 1

    def told(self, start: int, end: int) -> Repeat:
        same = abs(self.gain - 1.0) < _SAME_GAIN
        return Repeat(
            frame=start,
            frames=end - start,
            of_frame=start - (self.at - self.of),
            gain_db=0.0 if same else db_from_ratio(abs(self.gain)),
        )

    def _holds(self, samples: Singles, start: int, stop: int, way: int) -> int:
        """Return for how many frames from `start` on, forwards or backwards, the two are the same."""
        lag, count, loudest = self.at - self.of, 0, 0.0
        while count < abs(stop - start):
            frames = start + way * np.arange(count, min(count + _STEP, abs(stop - start)))
            low, high = int(min(frames[0], frames[-1])), int(max(frames[0], frames[-1])) + 1
            one = samples[low:high][::way].astype(np.float64)
            two = samples[low - lag : high - lag][::way].astype(np.float64)
            allowed = _CODES * self.code * (1.0 + self.gain) + 1e-6 * np.abs(one)
            other = np.flatnonzero(np.abs(one - self.gain * two) > allowed)
            if other.size:
                return count + int(other[0])
            count += one.size
            power = float(np.dot(two, two))
            if power > loudest:  # the louder, the better the gain is known
                self.gain, loudest = float(np.dot(one, two)) / power, power
        return count


def _steady(stretch: Singles, cell: int) -> bool:
    """Return whether a stretch is as loud from its beginning to its end as only a test tone is."""
    peaks = np.max(np.abs(stretch[: stretch.size // cell * cell].reshape(-1, cell)), axis=1)
    return bool(np.max(peaks) <= _STEADY * np.min(peaks))
