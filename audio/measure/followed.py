"""One line through the likeness of all attacks: where the recording lies, attack after attack.

Each attack votes with its whole curve. The line that gathers most likeness may drift, and may jump where
that pays for the jump: attacks that a gate ate or an accident hid are carried by their neighbours. Found
by dynamic programming (Viterbi 1967; Bellman's principle).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

_MOST, _LEAST = 12.0, -3.0
"""What one attack can add and take, so that no single one decides."""
_JUMP = 16.0
_STRAY = 0.3
_FASTEST = 300e-6
"""Two clocks differ by less (crystals: 100 ppm each at worst; common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line through all attacks."""

    lags: NDArray[np.int64]
    """(strikes,) · low-rate frames, counted from the same zero for all."""
    votes: NDArray[np.float64]
    """(strikes,) · likeness of each strike there, in the line's polarity."""
    worth: NDArray[np.float64]
    """(strikes,) · the same, that of the clearest made as small as 12."""

    @property
    def sum(self) -> float:
        """All worth gathered."""
        return float(np.sum(self.worth))


@dataclass(frozen=True, kw_only=True)
class Votes:
    """The curves of all strikes, side by side."""

    curves: NDArray[np.float32]
    """(strikes, lags)."""
    starts: NDArray[np.int64]
    """(strikes,) · lag of each curve's first column, counted from the same zero for all."""
    gaps: NDArray[np.float64]
    """(strikes,) · low-rate frames from the strike before; 0 for the first."""

    def best(self, sign: float, *, without: Line | None = None, corridor: int = 0) -> Line:
        """Return the line of most likeness in one polarity.

        Parameters
        ----------
        sign
            1.0 or −1.0.
        without
            A line it must keep away from.
        corridor
            How far, low-rate frames either way.

        Returns
        -------
        Line
            One lag for each strike.
        """
        worth = np.maximum(self.worths() * np.float32(sign), _LEAST)
        if without is not None:
            lags = self.starts[:, None] + np.arange(worth.shape[1])
            worth[np.abs(lags - without.lags[:, None]) <= corridor] = -1e3
        lags = _line(worth, self.starts, self.gaps)
        column = (lags - self.starts)[:, None]
        votes = np.take_along_axis(self.curves, column, axis=1)[:, 0] * sign
        worth = np.take_along_axis(self.worths(), column, axis=1)[:, 0] * sign
        return Line(
            lags=lags,
            votes=votes.astype(np.float64),
            worth=np.maximum(worth, _LEAST).astype(np.float64),
        )

    def worths(self) -> NDArray[np.float32]:
        """Return the curves, those that stand out most made smaller as a whole."""
        tops = np.max(np.abs(self.curves), axis=1, keepdims=True)
        smaller = np.minimum(1.0, _MOST / np.maximum(tops, 1e-9)).astype(np.float32)
        return np.asarray(self.curves * smaller)


def _line(
    worth: NDArray[np.float32], starts: NDArray[np.int64], gaps: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Return the lag of each strike on the line of most worth."""
    strikes, lags = worth.shape
    came = np.zeros((strikes, lags), dtype=np.int32)
    score = worth[0]
    for index in range(1, strikes):
        moved = int(starts[index] - starts[index - 1])
        reach = 1 + int(_FASTEST * gaps[index])
        kept, source = _stayed(score, moved, reach)
        top = int(np.argmax(score))
        jumped = score[top] - _JUMP > kept
        came[index] = np.where(jumped, top, source)
        score = worth[index] + np.where(jumped, score[top] - _JUMP, kept)
    column = int(np.argmax(score))
    line = np.empty(strikes, dtype=np.int64)
    for index in range(strikes - 1, -1, -1):
        line[index] = column + starts[index]
        column = int(came[index, column])
    return line


def _stayed(
    score: NDArray[np.float32], moved: int, reach: int
) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Return the best score within `reach` lags of each column one strike before, and its column."""
    lags = score.size
    padded = np.full(3 * lags + 2 * reach, -np.inf, dtype=np.float32)
    padded[lags + reach : 2 * lags + reach] = score
    begin = lags + reach + int(np.clip(moved, -lags, lags))
    best = padded[begin : begin + lags].copy()
    source = np.full(lags, moved, dtype=np.int64)
    for step in (s for s in range(-reach, reach + 1) if s):
        tried = padded[begin + step : begin + step + lags] - np.float32(_STRAY)
        better = tried > best
        np.copyto(best, tried, where=better)
        np.copyto(source, moved + step, where=better)
    return best, np.clip(source + np.arange(lags), 0, lags - 1)


def votes_of(
    curves: Sequence[NDArray[np.float32]], starts: Sequence[int], at: Sequence[float]
) -> Votes:
    """Return curves side by side; `at` are the strikes' low-rate frames."""
    return Votes(
        curves=np.stack(curves),
        starts=np.asarray(starts, dtype=np.int64),
        gaps=np.diff(np.asarray(at, dtype=np.float64), prepend=at[0]),
    )
