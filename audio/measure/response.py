"""The averaged click as it came back: cut out of the recording, as a spectrum and as a picture."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.correlation import Peaks, self_likeness
from audio.measure.fades import DIRECT, Window, direct_sound
from audio.measure.first_arrival import FirstArrival, first_arrival
from audio.measure.heard import Heard
from audio.measure.minimum_phase import Sent
from audio.measure.pulses import saturated
from audio.vocab.results import ClickTrain

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SURE = ((20.0, 10.0, 40.0), (4.0, 2.5, 8.0))
"""Power over noise from which a bin counts as measured, as `first_arrival` wants it."""
_DEPARTS_SIGMAS = 5.0
_PICTURE_VALUES = 128
_PICTURE_BEFORE_S = 0.001
_PICTURE_STEP_S = 1.0 / 32_000.0
_PICTURE_STEPS = 127
_PICTURE_FINER = 4


@dataclass(frozen=True, kw_only=True)
class Response:
    """What the clicks of a train brought back on the average, around their first peak."""

    spectrum: NDArray[np.complex128]
    """Turned so that what arrives at the peak's column has no phase."""
    noise: NDArray[np.float64]
    """Mean power of the noise in it."""
    rate: int

    @classmethod
    def cut(
        cls,
        sound: NDArray[np.float64],
        train: ClickTrain,
        heard: Heard,
        *,
        column: int,
        window: Window = DIRECT,
    ) -> Response:
        """Cut the response whose correlation peaks at a column out of a (frames,) recording."""
        rate = train.sample_rate
        (weights, before), size = direct_sound(window, rate=rate), _size(rate)
        padded = np.pad(sound, weights.size)
        starts = [p + column - heard.before - before + weights.size for p in train.positions]
        signs = (1,) * len(starts) if heard.rectified else train.signs
        rows = [s * padded[at : at + weights.size] for at, s in zip(starts, signs, strict=True)]
        turn = np.exp(2j * np.pi * np.arange(size // 2 + 1) * before / size)
        quiet = sound[: train.quiet_frames]
        return cls(
            spectrum=np.fft.rfft(np.mean(rows, axis=0) * weights, size) * turn,
            noise=_noise_power(quiet, weights, size) / len(rows),
            rate=rate,
        )

    def begins(self) -> FirstArrival | None:
        """Return where the response begins, frames after the peak's column; None in too much noise."""
        sent = _sent(self.rate, 2 * (self.spectrum.size - 1))
        return first_arrival(self.spectrum, self.noise, sent, rate=self.rate, sure=_SURE)

    def drawn(self, *, begins: float) -> tuple[int, ...]:
        """Return the response to be drawn, as `ClickReading.shape` says.

        Parameters
        ----------
        begins
            Where the arrival lies, frames after the peak's column.

        Returns
        -------
        tuple of int
            −127 to 127.
        """
        times = np.arange(_PICTURE_VALUES) * _PICTURE_STEP_S - _PICTURE_BEFORE_S
        at = times * self.rate + begins
        size = _PICTURE_FINER * 2 * (self.spectrum.size - 1)
        finer = np.fft.irfft(self.spectrum, size)
        drawn = finer[np.rint(at * _PICTURE_FINER).astype(np.int64) % size]
        largest = float(np.max(np.abs(drawn)))
        steps = np.rint(drawn * (_PICTURE_STEPS / largest)) if largest > 0.0 else drawn
        return tuple(int(v) for v in steps)


def departs(heard: Heard, top: Peaks, *, rate: int) -> bool:
    """Return whether more than noise is left when a plain path's answer is taken out of the clicks.

    Parameters
    ----------
    heard
        The clicks together.
    top
        The exact top of their first peak.
    rate
        Frames a second.

    Returns
    -------
    bool
        False where the peak of the correlation is the arrival.
    """
    noise = heard.noise**2 / heard.rows.shape[0]
    weights, before = direct_sound(DIRECT, rate=rate)
    column = round(float(top.at[0]))
    padded = np.pad(heard.together, weights.size)
    start = column - before + weights.size
    piece = padded[start : start + weights.size] * weights
    size = _size(rate)
    likeness = self_likeness(size, rate)
    place = before + float(top.at[0]) - column
    turned = likeness * np.exp(-2j * np.pi * np.fft.rfftfreq(size) * place)
    plain = float(top.height[0]) * np.fft.irfft(turned, size)[: piece.size]
    left = float(np.sum((piece - plain * weights) ** 2))
    free = float(np.sum(weights**2))
    # Band-limited noise has fewer independent values than frames.
    band = float(np.sum(likeness) ** 2 / np.sum(likeness**2) / likeness.size)
    by_chance = _DEPARTS_SIGMAS * float(np.sqrt(2.0 / (band * free)))
    return bool(left > noise * free * (1.0 + by_chance))


def _noise_power(
    quiet: NDArray[np.float64], weights: NDArray[np.float64], size: int
) -> NDArray[np.float64]:
    """Return the mean power spectrum of a stretch without a click, seen through the same window."""
    starts = range(0, quiet.size - weights.size, weights.size // 2)
    pieces = np.stack([quiet[at : at + weights.size] * weights for at in starts])
    return np.asarray(np.mean(np.abs(np.fft.rfft(pieces, size, axis=1)) ** 2, axis=0))


def _size(rate: int) -> int:
    """Return the frames of the transform: a power of two, 85 ms and more."""
    return 1 << (round(0.06 * rate)).bit_length()


@lru_cache(maxsize=4)
def _sent(rate: int, size: int) -> tuple[Sent, ...]:
    """Return what may have left the amp when the pulse entered it."""
    return tuple(Sent.of(spectrum, rate=rate) for spectrum in saturated(rate, size))
