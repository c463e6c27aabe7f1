"""The clicks of a train together: what they have in common, and each one's place beside it.

The clicks of a train alternate in sign. Half the difference of the positive and the negative ones
keeps what the path does to both alike and cancels even-order distortion; half their sum keeps only
that, and shows a path that rectifies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.correlation import Peaks, correlate, refine
from audio.measure.levels import rms
from audio.signals.click import LATEST_S, half_frames
from audio.vocab.results import ClickTrain
from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from numpy.typing import NDArray

CLEAR_OF_NOISE = 6.0
"""Height of the averaged correlation over its noise's RMS from which it counts as a click. Some 20 000
independent values of Gaussian noise pass 6 once in ten thousand trains."""

FIRST_ARRIVAL_DB = -8.0
"""An earlier peak this near to the strongest is the arrival: a floor bounce may be louder than the
direct sound by a few dB, crosstalk is quieter by far more, and so are the pulse's own side lobes
(−15 dB)."""

_BEFORE_S = 0.002
_BEYOND_S = 0.020
RECTIFIED = 0.7
"""Even part over odd part from which the sign of what came back says nothing of the wiring."""
_NEAR_S = 0.001
_SINGLE_CLEAR = 4.0


@dataclass(frozen=True, kw_only=True)
class Heard:
    """Correlation of each click with the pulse, and what the clicks have in common."""

    rows: NDArray[np.float64]
    """(clicks, lags), each turned so that a path that turns nothing over gives a positive peak."""
    together: NDArray[np.float64]
    """(lags,) mean of the rows."""
    even: NDArray[np.float64]
    """(lags,) the part that does not follow the click's sign."""
    rectified: bool
    """Whether the even part is what arrived; the rows then keep the sign they came with."""
    quiet: NDArray[np.float64]
    """(frames,) what a single row is without a click."""
    whole: NDArray[np.float64]
    """(frames,) correlation of the whole recording."""
    before: int
    """Lag 0 stands at this column."""
    first: int
    """Column of the first arrival."""

    @property
    def noise(self) -> float:
        """RMS of a single row without a click."""
        return rms(self.quiet)

    @property
    def top(self) -> Peaks:
        """The exact top of the first arrival, the only one in it."""
        return refine(self.together[None, :], np.asarray([self.first]))

    @property
    def clear(self) -> bool:
        """Whether a click stands out of the noise."""
        height = abs(float(self.together[self.first]))
        return height > CLEAR_OF_NOISE * self.noise / np.sqrt(self.rows.shape[0]) and height > 0.0

    @classmethod
    def of(cls, sound: NDArray[np.float64], train: ClickTrain) -> Heard:
        """Listen for a train in a (frames,) recording that is at least as long."""
        rate = train.sample_rate
        whole = correlate(sound, rate=rate)
        before = round(_BEFORE_S * rate)
        lags = before + round((LATEST_S + _BEYOND_S) * rate)
        plain = np.stack([whole[p - before : p - before + lags] for p in train.positions])
        signs = np.asarray(train.signs, dtype=np.float64)[:, None]
        odd, even = np.mean(signs * plain, axis=0), np.mean(plain, axis=0)
        both = np.unique(signs).size == 2
        rectified = both and np.max(np.abs(even)) * RECTIFIED > np.max(np.abs(odd))
        together = even if rectified else odd
        half = 2 * half_frames(rate=rate)
        lead_in = whole[half : train.quiet_frames - half]
        return cls(
            rows=plain if rectified else signs * plain,
            together=together,
            even=even if both else np.zeros_like(even),
            rectified=bool(rectified),
            quiet=lead_in,
            whole=whole,
            before=before,
            first=_first_arrival(
                together[: before + round(LATEST_S * rate) + before],
                least=CLEAR_OF_NOISE * rms(lead_in) / np.sqrt(len(train.positions)),
            ),
        )


def _first_arrival(curve: NDArray[np.float64], *, least: float) -> int:
    """Return the column of the earliest peak within 8 dB of the strongest and clear of the noise."""
    height = np.abs(curve)
    enough = max(ratio_from_db(FIRST_ARRIVAL_DB) * float(np.max(height)), least)
    inner = height[1:-1]
    tops = (inner >= height[:-2]) & (inner >= height[2:]) & (inner >= enough)
    return int(np.argmax(tops)) + 1 if np.any(tops) else int(np.argmax(height))


def single_arrivals(heard: Heard, *, rate: int) -> tuple[float | None, ...]:
    """Return the place of each click's own peak nearest to the common one, None where it is not clear."""
    reach = round(_NEAR_S * rate)
    start = max(heard.first - reach, 1)
    common = float(heard.together[heard.first])
    near = np.sign(common) * heard.rows[:, start - 1 : heard.first + reach + 2]
    enough = max(0.5 * abs(common), _SINGLE_CLEAR * heard.noise)
    inner = near[:, 1:-1]
    tops = (inner >= near[:, :-2]) & (inner >= near[:, 2:]) & (inner >= enough)
    away = np.where(tops, np.abs(np.arange(inner.shape[1]) + start - heard.first), rate)
    columns = start + np.argmin(away, axis=1)
    peaks = refine(heard.rows, columns)
    found = np.any(tops, axis=1)
    return tuple(
        float(at) - heard.before if yes else None for at, yes in zip(peaks.at, found, strict=True)
    )
