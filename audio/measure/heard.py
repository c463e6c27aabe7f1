"""The clicks of a train together: what they have in common, and each one's place beside it.

The clicks of a train alternate in sign. Half the difference of the positive and the negative ones
keeps what the path does to both alike and cancels even-order distortion; half their sum keeps only
that, and shows a path that rectifies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure import gauss
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

_SIDE_LOBE = 0.2
"""What the strongest peak itself shows beside it, noise comes on top: just over the pulse's side lobes."""

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
    noise: float
    """RMS of a single row without a click, or what the rows do not have in common if that is more."""
    whole: NDArray[np.float64]
    """(frames,) correlation of the whole recording."""
    before: int
    """Lag 0 stands at this column."""
    first: int
    """Column of the first arrival."""

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
        rows = plain if rectified else signs * plain
        half = 2 * half_frames(rate=rate)
        lead_in = whole[half : train.quiet_frames - half]
        noise = max(rms(lead_in), _not_in_common(rows))
        return cls(
            rows=rows,
            together=together,
            even=even if both else np.zeros_like(even),
            rectified=bool(rectified),
            quiet=lead_in,
            noise=noise,
            whole=whole,
            before=before,
            first=_first_arrival(
                rows[:, : before + round(LATEST_S * rate) + before],
                least=CLEAR_OF_NOISE * noise / float(np.sqrt(len(train.positions))),
            ),
        )


def _not_in_common(rows: NDArray[np.float64]) -> float:
    """Return what a single row's noise would be if all that the rows do not share were noise.

    From the median, so that the few places at which one click's row shows its neighbours do not count.
    """
    clicks = rows.shape[0]
    if clicks == 1:
        return 0.0
    apart = np.median(np.abs(rows - np.mean(rows, axis=0)))
    return float(apart / gauss.MEDIAN * np.sqrt(clicks / (clicks - 1)))


def _first_arrival(rows: NDArray[np.float64], *, least: float) -> int:
    """Return the column of the earliest peak within 8 dB of the strongest that the clicks share."""
    height = np.abs(np.mean(rows, axis=0))
    strongest = int(np.argmax(height))
    most = float(height[strongest])
    enough = max(ratio_from_db(FIRST_ARRIVAL_DB) * most, least + _SIDE_LOBE * most)
    inner = height[1:-1]
    tops = (inner >= height[:-2]) & (inner >= height[2:]) & (inner >= enough)
    for column in np.flatnonzero(tops[: max(strongest - 1, 0)]) + 1:
        if shared(rows[:, column]):
            return int(column)
    return strongest


def shared(values: NDArray[np.float64]) -> bool:
    """Return whether a mean is the work of most of its values: a neighbour is heard in one row only."""
    mean = float(np.mean(values))
    lower = np.quantile(np.sign(mean) * values, 0.25, method="lower")
    return bool(lower >= 0.5 * abs(mean))


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
