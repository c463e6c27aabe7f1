"""How loud a DI is, and what was cut off it, while it is read."""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.clipping import ClippedRuns
from audio.measure.loudness import RunningLoudness
from audio.measure.true_peak import RunningTruePeak
from audio.vocab.readiness import DiLevel
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

HOP_S = 0.1
"""What is taken in at a time."""

REST_DB = 40.0
"""Hops so far under the loudest are rests: they say nothing of how the playing swings."""


class RunningDiLevel:
    """Level of one channel, fed in pieces of whole hops, but for the last.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._hop = round(HOP_S * rate)
        self._loudness = RunningLoudness(rate=rate)
        self._true_peak = RunningTruePeak(rate=rate)
        self._clipped = ClippedRuns()
        self._powers = array("d")
        self._peak = self._sum = 0.0
        self._frames = 0

    def feed(self, piece: NDArray[np.float32]) -> None:
        """Take the next (frames,) of sound, linear; a piece that is no whole number of hops is the last."""
        whole = piece[: piece.size // self._hop * self._hop].astype(np.float64)
        hops = whole.reshape(-1, self._hop)
        level = np.abs(piece)
        self._clipped.feed(level)
        self._true_peak.feed(piece)
        if hops.size:
            self._loudness.feed(hops)
            self._powers.extend(np.einsum("hf,hf->h", hops, hops) / self._hop)
        self._peak = max(self._peak, float(np.max(level, initial=0.0)))
        self._sum += float(np.sum(piece, dtype=np.float64))
        self._frames += piece.size

    def level(self) -> DiLevel:
        """Return the level of all that was fed."""
        count, first = self._clipped.told()
        return DiLevel(
            peak_dbfs=db_from_ratio(self._peak),
            true_peak_dbtp=self._true_peak.dbtp(),
            loudness_lufs=self._loudness.lufs(),
            crest_db=self._crest_db(),
            dc=self._sum / self._frames if self._frames else 0.0,
            clipped_runs=count,
            clipped=first,
        )

    def _crest_db(self) -> float | None:
        powers = np.array(self._powers)
        if not powers.any():
            return None
        played = powers[powers >= np.max(powers) * 10.0 ** (-REST_DB / 10.0)]
        return db_from_ratio(self._peak / float(np.sqrt(np.mean(played))))
