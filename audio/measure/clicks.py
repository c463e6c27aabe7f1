"""What one input heard of a click train: when it arrived, how surely, which way round.

The place of the correlation's peak is as good as noise allows (the Cramér–Rao bound); where the path
smears the click, `audio.measure.first_arrival` takes back how late that peak is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

import numpy as np

from audio.measure import correlation, gauss
from audio.measure.correlation import Peaks
from audio.measure.echo import find_echo
from audio.measure.fades import DIRECT
from audio.measure.first_arrival import FirstArrival, of_direct_sound
from audio.measure.heard import CLEAR_OF_NOISE, RECTIFIED, Heard, single_arrivals
from audio.measure.levels import FULL_SCALE, mains, peak_dbfs, rms_dbfs
from audio.measure.repeats import find_repeats
from audio.measure.response import Response, departs
from audio.signals.click import half_frames
from audio.vocab.alignment import Polarity
from audio.vocab.errors import UseError
from audio.vocab.results import ClickReading, ClickTrain
from audio.vocab.units import db_from_ratio, ratio_from_db

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audio.measure.fades import Window

_OTHER_LOBE = 0.85
"""Height of an opposite peak beside the arrival, over the arrival's, from which polarity is open."""
_LOBES_S = 0.0003
_TELLING = 25.0
"""Height of the averaged correlation over its noise from which a path that looks plain is one: in more
noise a loudspeaker's smear goes unseen."""
_UNTOLD_S = 1.2e-4
"""Half width where noise hides how much the path smears, seconds: loudspeakers do by up to so much."""
_NO_CLICK = 100.0
"""Misfit past which the phases say nothing at all: what came back is no click through anything that stands
still. Loudspeakers, rooms and filters stay under 30, playing without a click in it lies over 200."""
_SPREAD_LIMIT_S = 0.00025
"""Standard deviation of single arrivals past which they contradict each other."""

_WIDEST_S = 0.0005
"""Half width of the 95 % interval past which there is no delay to speak of."""

# Student's t, two-sided 95 %, and chi-square over its degrees of freedom, 95 %, for 1 to 7 degrees
# (standard tables; checked against scipy in the tests).
_STUDENT = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365)
_CHI_SQUARE = (3.841, 2.996, 2.605, 2.372, 2.214, 2.099, 2.010)


def read_clicks(
    recording: NDArray[np.floating], train: ClickTrain, *, by_peak: bool = False
) -> ClickReading:
    """Find a click train in the recording of one input.

    Parameters
    ----------
    recording
        (frames,) · linear, full scale 1.0 · at least `train.frames`; frame 0 is the train's frame 0.
    train
        What was played.
    by_peak
        Whether the peak will do as arrival, with a ± that holds what a loudspeaker may smear: enough to
        tell how well the click is heard, at a fraction of the work.

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
    heard = Heard.of(sound, train)
    if not heard.clear:
        covered = room.hum_share > 0.5
        return room.reading("only hum" if covered else "nothing")
    return _judge(heard, room, sound, train, by_peak=by_peak)


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


# ------------------------------------------------------------------ judging them


def _judge(
    heard: Heard, room: _Room, sound: NDArray[np.float64], train: ClickTrain, *, by_peak: bool
) -> ClickReading:
    rate = train.sample_rate
    top = heard.top
    singles = single_arrivals(heard, rate=rate)
    times = np.asarray([a for a in singles if a is not None])
    if _contradict(heard, times, rate=rate):
        return room.reading("unclear")
    column = round(float(top.at[0]))

    @cache
    def response(window: Window) -> Response:
        return Response.cut(sound, train, heard, column=column, window=window)

    smeared = departs(heard, top, rate=rate)
    sought = smeared and not by_peak
    arrival = of_direct_sound(lambda window: response(window).begins()) if sought else None
    smear = float(top.at[0]) - column - arrival.at if arrival else 0.0
    repeated = _half_width(heard, top, times)
    untold = smeared or float(abs(top.height[0])) < _TELLING * heard.noise / np.sqrt(len(singles))
    smear_unsure = arrival.plus_minus if arrival else _UNTOLD_S * rate if untold else 0.0
    half_width = float(np.hypot(repeated, smear_unsure))
    if half_width > _WIDEST_S * rate or (arrival and arrival.misfit > _NO_CLICK):
        return room.reading("unclear")
    delay = float(top.at[0]) - smear - heard.before
    return ClickReading(
        delay_frames=delay,
        plus_minus_frames=half_width,
        peak_delay_frames=float(top.at[0]) - heard.before,
        peak_plus_minus_frames=repeated,
        spread_frames=float(np.std(times, ddof=1)) if times.size > 1 else None,
        snr_db=_snr_db(heard, sound, train),
        polarity=_polarity(
            heard, float(top.height[0]), arrival, untold=untold and not by_peak, rate=rate
        ),
        arrivals=tuple(None if a is None else a - smear for a in singles),
        repeats_frames=find_repeats(heard.whole, train, lag=heard.first - heard.before),
        echo=None if by_peak else find_echo(heard, train),
        noise_dbfs=room.noise_dbfs,
        peak_dbfs=room.peak_dbfs,
        hum_hz=room.hum_hz,
        hum_dbfs=room.hum_dbfs,
        shape=response(DIRECT).drawn(begins=float(top.at[0]) - smear - column),
    )


def _contradict(heard: Heard, times: NDArray[np.float64], *, rate: int) -> bool:
    """Return whether the clicks, loud enough to be seen one by one, do not agree on one arrival."""
    if abs(float(heard.together[heard.first])) < CLEAR_OF_NOISE * heard.noise:
        return False
    scattered = times.size > 1 and float(np.std(times, ddof=1)) > _SPREAD_LIMIT_S * rate
    few = 2 * times.size <= heard.rows.shape[0] > 1
    return bool(few or not times.size or scattered)


def _half_width(heard: Heard, top: Peaks, times: NDArray[np.float64]) -> float:
    """Return the half width of the 95 % interval of the peak's place.

    The noise's own bound holds as long as the scatter of the single arrivals can be its work; where
    they scatter more, the path moves, and only the scatter itself can tell how much.
    """
    clicks = heard.rows.shape[0]
    single = correlation.slope_rms(heard.quiet) / abs(float(top.bend[0]))
    freedom = min(times.size - 1, len(_STUDENT))
    if freedom >= 1:
        variance = float(np.var(times, ddof=1))
        if variance > _CHI_SQUARE[freedom - 1] * single**2:
            return _STUDENT[freedom - 1] * float(np.sqrt(variance / times.size))
    return gauss.NINETY_FIVE * single / float(np.sqrt(clicks))


def _polarity(
    heard: Heard, height: float, arrival: FirstArrival | None, *, untold: bool, rate: int
) -> Polarity:
    """Return which way round the arrival is, unsure where the evidence is not clear-cut.

    `untold`: noise hides how the path smears, and with it which lobe is the first.
    """
    reach = round(_LOBES_S * rate)
    nearby = slice(max(heard.first - reach, 0), heard.first + reach + 1)
    even = float(np.max(np.abs(heard.even[nearby])))
    if arrival is None:
        opposite = float(np.max(-np.sign(height) * heard.together[nearby])) / abs(height)
        sign, open_question = height, untold or opposite > _OTHER_LOBE
    else:
        sign, open_question = arrival.sign, not arrival.sign_is_sure
    if heard.rectified or open_question or even > RECTIFIED * abs(height):
        return "unsure"
    return "normal" if sign > 0.0 else "inverted"


def _snr_db(heard: Heard, sound: NDArray[np.float64], train: ClickTrain) -> float:
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
