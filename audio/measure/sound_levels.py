"""Every level of one channel in one go, while it comes in; memory grows by ten numbers a second."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.clipping import ClippedRuns
from audio.measure.levels import aes17_dbfs
from audio.measure.loudness import RunningLoudness, Speakers
from audio.measure.running import Gathered
from audio.measure.spectrum import RunningPower, even
from audio.measure.thirds import third_levels
from audio.measure.true_peak import RunningTruePeak
from audio.measure.weighting import weighted_dbfs
from audio.vocab.levels import SoundLevels
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray


def sound_levels(
    pieces: Iterable[NDArray[np.floating]], *, rate: int, speakers: Speakers
) -> SoundLevels:
    """Measure one channel that comes piece by piece.

    Parameters
    ----------
    pieces
        (frames,) each, of any size, in order · linear, full scale 1.0.
    rate
        Frames a second.
    speakers
        On how many loudspeakers it is heard, for its loudness.

    Returns
    -------
    SoundLevels
        The same however it was cut into pieces, but for rounding.
    """
    running = _RunningLevels(rate=rate)
    for piece in pieces:
        running.feed(piece)
    return running.told(speakers)


class _RunningLevels:
    """What all levels are made of."""

    def __init__(self, *, rate: int) -> None:
        self._hop = rate // 10
        self._gathered = Gathered(self._hop)
        self._frames = 0
        self._peak = 0.0
        self._square = 0.0
        self._clipped = ClippedRuns()
        self._loudness = RunningLoudness(rate=rate)
        self._power = RunningPower(rate=rate, window=even)
        self._true_peak = RunningTruePeak(rate=rate)

    def feed(self, piece: NDArray[np.floating]) -> None:
        piece = piece.astype(np.float64, copy=False)
        level = np.abs(piece)
        self._frames += piece.size
        self._peak = max(self._peak, float(np.max(level, initial=0.0)))
        self._square += float(np.einsum("f,f->", piece, piece))
        self._clipped.feed(level)
        self._power.feed(piece)
        self._true_peak.feed(piece)
        hops = self._gathered.add(piece)
        if hops.size:
            self._loudness.feed(hops.reshape(-1, self._hop))

    def told(self, speakers: Speakers) -> SoundLevels:
        power = self._power.power()
        rms_dbfs = db_from_ratio(float(np.sqrt(self._square / max(self._frames, 1))))
        runs, first = self._clipped.told()
        return SoundLevels(
            frames=self._frames,
            peak_dbfs=db_from_ratio(self._peak),
            true_peak_dbtp=self._true_peak.dbtp(),
            rms_dbfs=rms_dbfs,
            rms_aes17_dbfs=aes17_dbfs(rms_dbfs),
            a_dbfs=weighted_dbfs(power),
            loudness_lufs=self._loudness.lufs(speakers=speakers),
            speakers=speakers,
            thirds=third_levels(power),
            clipped_runs=runs,
            first_clipped=first,
        )
