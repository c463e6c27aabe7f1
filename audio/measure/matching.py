"""Loudness and true peak of a mix over any stretch, at any balance, and what makes several equally loud.

What was measured once is kept (`Mix`), in segments that lie on the timeline's own grid: a stretch that is
moved needs only what it did not cover before. Where a stretch begins within a piece of 10 ms, the piece's
power is taken to be even.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.loudness import integrated_lufs
from audio.measure.pieces import (
    PIECES_IN_HOP,
    Pieces,
    around,
    measure_pieces,
    piece_frames,
)
from audio.vocab.matching import CEILING_DBTP, FLIP, Matched, SoundLevel
from audio.vocab.units import db_from_ratio, ratio_from_db

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

_SEGMENT_PIECES = 200
"""Measured at once, 2 s: a stretch reads little more than it covers."""

_TURNS = 8
_NEAR_LU = 1e-3

_BETWEEN = 1.0 / math.cos(math.pi / 8.0)
"""What the waveform reaches over its values at 192 kHz, at most, up to 24 kHz: 0.69 dB (ITU-R BS.1770-5,
annex 2, attachment 1)."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the timeline."""

    from_frame: int
    frames: int
    rate: int

    @property
    def pieces(self) -> range:
        """Numbers of the pieces it touches; piece 0 begins at frame 0."""
        piece = piece_frames(rate=self.rate)
        return range(self.from_frame // piece, -(-(self.from_frame + self.frames) // piece))

    @property
    def segments(self) -> range:
        """Numbers of the segments it touches."""
        pieces = self.pieces
        return range(pieces.start // _SEGMENT_PIECES, -(-pieces.stop // _SEGMENT_PIECES))


@dataclass(frozen=True, slots=True)
class Heard:
    """One sound of a stretch at its balance."""

    powers: Floats
    """(hops,) · K-weighted mean square of each whole 100 ms."""
    bounds: Singles
    """(pieces,) · what its true peak is at most."""

    def lufs(self, gain_db: float = 0.0) -> float | None:
        """Return its loudness on one loudspeaker at a gain; None without a block over the gates."""
        return integrated_lufs(self.powers * 10.0 ** (gain_db / 10.0))


class Mix:
    """What was measured so far of microphones that are heard together.

    Parameters
    ----------
    rate
        Frames a second.
    weighed
        Whether loudness is asked for, or the peak alone.
    """

    def __init__(self, *, rate: int, weighed: bool) -> None:
        self.rate = rate
        self.weighed = weighed
        self.bytes = 0
        """How much memory it holds."""
        self._segments: dict[int, Pieces] = {}
        self._last: tuple[bytes, Span, Heard] | None = None

    def missing(self, span: Span) -> list[int]:
        """Return which segments of a stretch have to be measured first."""
        return [number for number in span.segments if number not in self._segments]

    def needs(self, number: int) -> tuple[int, int]:
        """Return the first frame on the timeline, and how many, of what a segment is measured from."""
        before, behind = around(rate=self.rate)
        frames = _SEGMENT_PIECES * piece_frames(rate=self.rate)
        return number * frames - before, before + frames + behind

    def measure(self, number: int, sound: Floats) -> None:
        """Measure a segment of (microphones, frames), the frames that `needs` tells."""
        measured = measure_pieces(sound, rate=self.rate, weighed=self.weighed)
        self._segments[number] = measured
        self.bytes += measured.bytes

    def bounds(self, gains: Floats, span: Span) -> Singles:
        """Return what the true peak of each piece of a stretch is at most, which is measured."""
        return self._cut([one.bounds(gains) for one in self._of(span)], span)

    def heard(self, gains: Floats, span: Span) -> Heard:
        """Return a stretch at a balance, which is measured; the last one is remembered.

        So a moved fader is reckoned with for its own sound alone.
        """
        balance = gains.tobytes()
        if self._last is None or self._last[:2] != (balance, span):
            powers = self._cut([one.powers(gains) for one in self._of(span)], span)
            heard = Heard(powers=_hop_powers(powers, span), bounds=self.bounds(gains, span))
            self._last = balance, span, heard
        return self._last[2]

    def _of(self, span: Span) -> list[Pieces]:
        return [self._segments[number] for number in span.segments]

    def _cut(self, values: Sequence[NDArray[np.floating]], span: Span) -> NDArray[np.floating]:
        first = span.pieces.start - span.segments.start * _SEGMENT_PIECES
        return np.concatenate(values)[first : first + len(span.pieces)]


def match(sounds: Sequence[Heard], under: Singles) -> Matched:
    """Match sounds down to the quietest, and find what keeps any flip between them under the ceiling.

    A flip is an equal-power crossfade: cos t · x + sin t · y of two sounds. By Cauchy and Schwarz its size
    is at most √(cos² t + sin² t) · √(x² + y²) = √(x² + y²), and so at most √2 times the larger of the two,
    which two that are alike do reach, in the middle. What plays under them adds its own.

    The gate of −70 LUFS stays where it is while sounds are turned down: rests that were measured fall under
    it. So loudness is compared at the gains at which the sounds will be heard, the cut among them.

    Parameters
    ----------
    sounds
        Over one stretch.
    under
        (pieces,) · what the true peak of all that plays under them is at most.

    Returns
    -------
    Matched
        Sound by sound in their order, and the common cuts.
    """
    matches = _matches_db(sounds, cut_db=0.0)
    matches = _matches_db(sounds, cut_db=_cut_db(sounds, matches, under))
    return Matched(
        sounds=tuple(
            SoundLevel(
                loudness_lufs=one.lufs(),
                peak_dbtp=db_from_ratio(float(np.max(one.bounds, initial=0.0))),
                match_db=match_db,
            )
            for one, match_db in zip(sounds, matches, strict=True)
        ),
        cut_matched_db=_cut_db(sounds, matches, under),
        cut_plain_db=_cut_db(sounds, [0.0] * len(sounds), under),
    )


def _matches_db(sounds: Sequence[Heard], *, cut_db: float) -> list[float]:
    """Return what brings each down to the quietest while all are turned down in common."""
    told = [one.lufs(cut_db) for one in sounds]
    quietest = min((lufs for lufs in told if lufs is not None), default=0.0)
    return [
        0.0 if lufs is None else _down_db(one, quietest - lufs, to=quietest, cut_db=cut_db)
        for one, lufs in zip(sounds, told, strict=True)
    ]


def _down_db(one: Heard, gain_db: float, *, to: float, cut_db: float) -> float:
    """Return the gain that brings a sound to a loudness, from a guess that is right but for the gates."""
    for _ in range(_TURNS):
        lufs = one.lufs(gain_db + cut_db)
        if lufs is None or abs(to - lufs) < _NEAR_LU:
            break
        gain_db += to - lufs
    return min(0.0, gain_db)


def _cut_db(sounds: Sequence[Heard], gains_db: Sequence[float], under: Singles) -> float:
    """Return what all has to be turned down by, sounds at their gains first; never up."""
    loudest = np.zeros_like(under)
    for one, gain_db in zip(sounds, gains_db, strict=True):
        np.maximum(loudest, one.bounds * np.float32(ratio_from_db(gain_db)), out=loudest)
    highest = float(np.max(under + np.float32(FLIP) * loudest, initial=0.0))
    return min(0.0, CEILING_DBTP - db_from_ratio(_BETWEEN * highest))


def _hop_powers(powers: NDArray[np.floating], span: Span) -> Floats:
    """Return the mean square of each whole 100 ms from a stretch's first frame on, of its pieces'."""
    piece = piece_frames(rate=span.rate)
    hop = PIECES_IN_HOP * piece
    begins = span.from_frame - span.pieces.start * piece + hop * np.arange(span.frames // hop + 1)
    summed = np.concatenate((np.zeros(1), np.cumsum(powers, dtype=np.float64)))
    return np.diff(np.interp(begins / piece, np.arange(summed.size), summed)) / PIECES_IN_HOP
