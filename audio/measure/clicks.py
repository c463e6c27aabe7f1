"""What one input heard of a click train: when it arrived, how surely, which way round.

The clicks of a train alternate in sign. Half the difference of the positive and the negative ones
keeps what the path does to both alike and cancels even-order distortion; half their sum keeps only
that, and shows a path that rectifies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from audio.measure import correlation
from audio.measure.levels import FULL_SCALE, mains, peak_dbfs, rms, rms_dbfs
from audio.measure.repeats import find_repeats
from audio.signals.click import LATEST_S, half_frames
from audio.vocab.errors import UseError
from audio.vocab.results import ClickReading, ClickTrain, Polarity
from audio.vocab.units import db_from_ratio, ratio_from_db

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
_RECTIFIED = 0.7
"""Even part over odd part from which the sign of what came back says nothing of the wiring."""
_OTHER_LOBE = 0.85
"""Height of an opposite peak beside the arrival, over the arrival's, from which polarity is open."""
_LOBES_S = 0.0003
_NEAR_S = 0.001
_SINGLE_CLEAR = 4.0
_SPREAD_LIMIT_S = 0.00025
"""Standard deviation of single arrivals past which they contradict each other."""

# Student's t, two-sided 95 %, and chi-square over its degrees of freedom, 95 %, for 1 to 7 degrees
# (standard tables; checked against scipy in the tests).
_STUDENT = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365)
_CHI_SQUARE = (3.841, 2.996, 2.605, 2.372, 2.214, 2.099, 2.010)
_GAUSS = 1.960


def read_clicks(recording: NDArray[np.floating], train: ClickTrain) -> ClickReading:
    """Find a click train in the recording of one input.

    Parameters
    ----------
    recording
        (frames,) · linear, full scale 1.0 · at least `train.frames`; frame 0 is the train's frame 0.
    train
        What was played.

    Returns
    -------
    ClickReading
        Delay from output to input in frames with everything that says how far to trust it, or the
        reason why there is none.

    Raises
    ------
    UseError
        When the recording ends before the train does.
    """
    if recording.shape[0] < train.frames:
        raise UseError(
            f"the recording of the test click has {recording.shape[0]} frames of {train.frames}: "
            "let the roll run to its end"
        )
    sound = np.asarray(recording[: train.frames], dtype=np.float64)
    room = _listen(sound, train)
    if room.reason is not None:
        return room.reading(room.reason)
    heard = _Heard.of(sound, train)
    if not heard.clear:
        covered = room.hum_share > 0.5
        return room.reading("only hum" if covered else "nothing")
    return _judge(heard, room, sound, train)


# ------------------------------------------------------------------ the room without the click


@dataclass(frozen=True, kw_only=True)
class _Room:
    """What can be said before a click is looked for."""

    noise_dbfs: float
    peak_dbfs: float
    hum_hz: Literal[50, 60] | None
    hum_dbfs: float | None
    reason: Literal["digital silence", "clipped"] | None

    @property
    def hum_share(self) -> float:
        """Share of the noise's power that is hum, 0 to 1."""
        if self.hum_dbfs is None:
            return 0.0
        return ratio_from_db(2.0 * (self.hum_dbfs - self.noise_dbfs))

    def reading(
        self, reason: Literal["nothing", "digital silence", "only hum", "unclear", "clipped"]
    ) -> ClickReading:
        return ClickReading(
            delay_frames=None,
            noise_dbfs=self.noise_dbfs,
            peak_dbfs=self.peak_dbfs,
            hum_hz=self.hum_hz,
            hum_dbfs=self.hum_dbfs,
            reason=reason,
        )


def _listen(sound: NDArray[np.float64], train: ClickTrain) -> _Room:
    quiet, due = sound[: train.quiet_frames], sound[train.quiet_frames :]
    hum = mains(quiet, rate=train.sample_rate)
    reason: Literal["digital silence", "clipped"] | None = None
    if not np.any(sound):
        reason = "digital silence"
    elif np.any(np.abs(due) >= FULL_SCALE):
        reason = "clipped"
    return _Room(
        noise_dbfs=rms_dbfs(quiet),
        peak_dbfs=peak_dbfs(due),
        hum_hz=hum.hz if hum else None,
        hum_dbfs=hum.dbfs if hum else None,
        reason=reason,
    )


# ------------------------------------------------------------------ the clicks together


@dataclass(frozen=True, kw_only=True)
class _Heard:
    """Correlation of each click with the pulse, and what the clicks have in common."""

    rows: NDArray[np.float64]
    """(clicks, lags), each turned so that a path that turns nothing over gives a positive peak."""
    together: NDArray[np.float64]
    """(lags,) mean of the rows."""
    even: NDArray[np.float64]
    """(lags,) the part that does not follow the click's sign."""
    rectified: bool
    """Whether the even part is what arrived; the rows then keep the sign they came with."""
    noise: float
    """RMS of a single row without a click."""
    noise_slope: float
    """RMS of its derivative, per frame."""
    whole: NDArray[np.float64]
    """(frames,) correlation of the whole recording."""
    before: int
    """Lag 0 stands at this column."""
    first: int
    """Column of the first arrival."""

    @property
    def clear(self) -> bool:
        """Whether a click stands out of the noise."""
        height = abs(float(self.together[self.first]))
        return height > CLEAR_OF_NOISE * self.noise / np.sqrt(self.rows.shape[0]) and height > 0.0

    @classmethod
    def of(cls, sound: NDArray[np.float64], train: ClickTrain) -> _Heard:
        rate = train.sample_rate
        whole = correlation.correlate(sound, rate=rate)
        before = round(_BEFORE_S * rate)
        lags = before + round((LATEST_S + _BEYOND_S) * rate)
        plain = np.stack([whole[p - before : p - before + lags] for p in train.positions])
        signs = np.asarray(train.signs, dtype=np.float64)[:, None]
        odd, even = np.mean(signs * plain, axis=0), np.mean(plain, axis=0)
        both = np.unique(signs).size == 2
        rectified = both and np.max(np.abs(even)) * _RECTIFIED > np.max(np.abs(odd))
        together = even if rectified else odd
        half = 2 * half_frames(rate=rate)
        lead_in = whole[half : train.quiet_frames - half]
        return cls(
            rows=plain if rectified else signs * plain,
            together=together,
            even=even if both else np.zeros_like(even),
            rectified=bool(rectified),
            noise=rms(lead_in),
            noise_slope=correlation.slope_rms(lead_in),
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


# ------------------------------------------------------------------ judging them


def _judge(
    heard: _Heard, room: _Room, sound: NDArray[np.float64], train: ClickTrain
) -> ClickReading:
    rate = train.sample_rate
    top = correlation.refine(heard.together[None, :], np.asarray([heard.first]))
    arrivals = _single_arrivals(heard, rate=rate)
    times = np.asarray([a for a in arrivals if a is not None])
    if _contradict(heard, times, rate=rate):
        return room.reading("unclear")
    delay = float(top.at[0]) - heard.before
    single = heard.noise_slope / abs(float(top.bend[0]))
    return ClickReading(
        delay_frames=delay,
        plus_minus_frames=_half_width(single, times, clicks=len(train.positions)),
        spread_frames=float(np.std(times, ddof=1)) if times.size > 1 else None,
        snr_db=_snr_db(heard, sound, train),
        polarity=_polarity(heard, float(top.height[0]), rate=rate),
        arrivals=arrivals,
        repeats_frames=find_repeats(heard.whole, train, delay=delay),
        noise_dbfs=room.noise_dbfs,
        peak_dbfs=room.peak_dbfs,
        hum_hz=room.hum_hz,
        hum_dbfs=room.hum_dbfs,
    )


def _single_arrivals(heard: _Heard, *, rate: int) -> tuple[float | None, ...]:
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
    peaks = correlation.refine(heard.rows, columns)
    found = np.any(tops, axis=1)
    return tuple(
        float(at) - heard.before if yes else None for at, yes in zip(peaks.at, found, strict=True)
    )


def _contradict(heard: _Heard, times: NDArray[np.float64], *, rate: int) -> bool:
    """Return whether the clicks, loud enough to be seen one by one, do not agree on one arrival."""
    if abs(float(heard.together[heard.first])) < CLEAR_OF_NOISE * heard.noise:
        return False
    scattered = times.size > 1 and float(np.std(times, ddof=1)) > _SPREAD_LIMIT_S * rate
    return bool(2 * times.size < heard.rows.shape[0] or scattered)


def _half_width(single: float, times: NDArray[np.float64], *, clicks: int) -> float:
    """Return the half width of the 95 % interval of the mean arrival.

    The noise's own bound holds as long as the scatter of the single arrivals can be its work; where
    they scatter more, the path moves, and only the scatter itself can tell how much.
    """
    freedom = min(times.size - 1, len(_STUDENT))
    if freedom >= 1:
        variance = float(np.var(times, ddof=1))
        if variance > _CHI_SQUARE[freedom - 1] * single**2:
            return _STUDENT[freedom - 1] * float(np.sqrt(variance / times.size))
    return _GAUSS * single / float(np.sqrt(clicks))


def _polarity(heard: _Heard, height: float, *, rate: int) -> Polarity:
    """Return which way round the arrival is, unsure where the evidence is not clear-cut."""
    reach = round(_LOBES_S * rate)
    near = heard.together[max(heard.first - reach, 0) : heard.first + reach + 1]
    opposite = float(np.max(-np.sign(height) * near))
    even = float(np.max(np.abs(heard.even[max(heard.first - reach, 0) : heard.first + reach + 1])))
    if heard.rectified or opposite > _OTHER_LOBE * abs(height) or even > _RECTIFIED * abs(height):
        return "unsure"
    return "normal" if height > 0.0 else "inverted"


def _snr_db(heard: _Heard, sound: NDArray[np.float64], train: ClickTrain) -> float:
    """Return the peak of the averaged clicks, as recorded, over the noise's RMS, full band."""
    reach = half_frames(rate=train.sample_rate)
    lag = heard.first - heard.before
    signs = train.signs if not heard.rectified else (1,) * len(train.signs)
    mean = np.zeros(2 * reach)
    for position, sign in zip(train.positions, signs, strict=True):
        mean += sign * sound[position + lag - reach : position + lag + reach]
    finer = np.fft.irfft(np.fft.rfft(mean / len(signs)), 4 * mean.size) * 4.0
    noise = rms_dbfs(sound[: train.quiet_frames])
    return db_from_ratio(float(np.max(np.abs(finer)))) - noise
