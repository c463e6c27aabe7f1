"""How much of what goes round comes back through a cable: gain, highs, polarity.

What is sent repeats, so one whole cycle of it and of what came back are periodic: their transforms hold
lines only, a delay turns phases, and nothing leaks at the ends. In each third of an octave one complex
gain is fitted by least squares, which noise and hum, being strangers to what was sent, do not move; the
power that noise alone lends it is taken off (the variance of a least-squares gain is the noise's over what
was sent, Kay 1993, ch. 4). Phases that a transformer turns over the octaves do not matter that way.

The level is told by 200 Hz to 2 kHz, each third weighted by the power that was sent in it: what an amp's
input sees most of, clear of hum below and of what transformers and cables do to either end.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace

from audio.measure.levels import mains, peak_dbfs, rms_dbfs
from audio.vocab.looped import CopyBack

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audio.vocab.alignment import Polarity

    Floats = NDArray[np.float64]
    Hertz = NDArray[np.floating]
    Lines = NDArray[np.complex128]

MIDDLE_HZ = (200.0, 2000.0)
HIGHS_HZ = (5000.0, 10_000.0)
_SEARCH_HZ = (80.0, 8000.0)
"""Where a copy is looked for, every line alike as far as it stands over `_FLOOR` of the mean."""
_FLOOR = 1e-3
_FEWEST_LINES = 4
_SHARE = 0.5
"""Of what came back between 200 Hz and 2 kHz, a copy is at least half. Noise fits a hundredth of its power
by chance, other music in one key an eighth (tried on phrases played backwards)."""
_CLEAR = 6.0
"""Power of the fit over what noise alone would fit, for a third of an octave to count in a shape; noise
passes it once in 400 times (an exponential variate)."""
_SENT_POWER = 1e-12
"""Mean square, full scale 1, under which nothing was sent."""
_NINETY_FIVE = 1.96
_DB = 10.0 / np.log(10.0)
_IN_PHASE = 0.5
"""Share of the fit that must be real for a polarity: a copy is at 0 or at 180 degrees."""


@dataclass(frozen=True)
class _Bands:
    """Least-squares gains in bands."""

    sent: Floats
    """Power that was sent in each."""
    cross: Lines
    noise: Floats
    """Power of a line of what is no copy."""
    back: Floats
    """Power that came back in each."""

    @property
    def fitted(self) -> Floats:
        """Power of the copy in each, what noise lends it left in."""
        return np.abs(self.cross) ** 2 / self.sent

    @property
    def copied(self) -> Floats:
        """The same, noise taken off."""
        return self.fitted - self.noise

    @property
    def is_clear(self) -> bool:
        """Whether there is a copy at all."""
        return bool(np.sum(self.copied) > _SHARE * np.sum(self.back))


def copy_back(sent: Floats, back: Floats, *, rate: int, quiet: Floats | None = None) -> CopyBack:
    """Compare one whole cycle of what goes round with what came back in the same frames.

    Parameters
    ----------
    sent
        (frames,) · linear · one cycle as it left, from any of its frames on.
    back
        (frames,) · linear · what came in during the same frames, once all has gone round before.
    rate
        Frames a second.
    quiet
        (frames of any number,) · linear · what came in before anything was sent.

    Returns
    -------
    CopyBack
        With a `reason` where no copy is clear of the noise.

    Raises
    ------
    ValueError
        If the two differ in length.
    """
    if sent.shape != back.shape:
        raise ValueError(f"one cycle of both is wanted: {sent.shape} and {back.shape} frames given")
    nothing = _nothing(back, quiet, rate)
    if not np.any(back):
        return replace(nothing, reason="digital silence")
    x, y = np.fft.rfft(sent - np.mean(sent)), np.fft.rfft(back - np.mean(back))
    hz = np.fft.rfftfreq(sent.size, 1.0 / rate)
    if not _sounds(x, hz, sent.size):
        return replace(nothing, reason="nothing sent")
    delay = _delay(x, y, hz, sent.size)
    y = y * np.exp(2j * np.pi * np.arange(x.size) * delay / sent.size)
    middle = _bands(x, y, hz, MIDDLE_HZ)
    if middle is None or not middle.is_clear:
        return nothing
    gain, plus_minus = _gain(middle)
    return replace(
        nothing,
        gain_db=gain,
        plus_minus_db=plus_minus,
        delay_frames=delay,
        polarity=_polarity(middle),
        highs_db=_highs(middle, _bands(x, y, hz, HIGHS_HZ)),
        reason=None,
    )


def _nothing(back: Floats, quiet: Floats | None, rate: int) -> CopyBack:
    """Return what is told where there is no copy."""
    heard = quiet is not None and quiet.size > 0
    found = mains(quiet, rate=rate) if quiet is not None and heard else None
    return CopyBack(
        gain_db=None,
        peak_dbfs=peak_dbfs(back),
        noise_dbfs=rms_dbfs(quiet) if quiet is not None and heard else None,
        hum_hz=found.hz if found else None,
        hum_dbfs=found.dbfs if found else None,
        reason="nothing",
    )


def _sounds(x: Lines, hz: Hertz, frames: int) -> bool:
    inside = (hz >= MIDDLE_HZ[0]) & (hz <= MIDDLE_HZ[1])
    return bool(2.0 * np.sum(np.abs(x[inside]) ** 2) / frames**2 > _SENT_POWER)


def _delay(x: Lines, y: Lines, hz: Hertz, frames: int) -> int:
    """Return the whole frames by which the copy comes late, 0 to frames − 1: the response's peak."""
    power = np.abs(x) ** 2
    inside = (hz >= _SEARCH_HZ[0]) & (hz <= _SEARCH_HZ[1])
    floor = _FLOOR * float(np.mean(power[inside]))
    response = np.fft.irfft(np.where(inside, y * np.conj(x) / (power + floor), 0.0), frames)
    return int(np.argmax(np.abs(response)))


def _bands(x: Lines, y: Lines, hz: Hertz, around: tuple[float, float]) -> _Bands | None:
    """Fit each third of an octave in which something was sent; None where there is none."""
    low, high = around
    edges = np.geomspace(low, high, 1 + round(3.0 * np.log2(high / low)))
    found = [_band(x[inside], y[inside]) for inside in _inside(hz, edges)]
    rows = [one for one in found if one is not None]
    if not rows:
        return None
    sent, cross, noise, back = (np.asarray(column) for column in zip(*rows, strict=True))
    return _Bands(sent, cross, noise, back)


def _inside(hz: Hertz, edges: Hertz) -> list[slice]:
    at = np.searchsorted(hz, edges)
    return [slice(int(a), int(b)) for a, b in pairwise(at)]


def _band(x: Lines, y: Lines) -> tuple[float, complex, float, float] | None:
    sent = float(np.sum(np.abs(x) ** 2))
    if x.size < _FEWEST_LINES or sent <= 0.0:
        return None
    cross = complex(np.sum(y * np.conj(x)))
    left = float(np.sum(np.abs(y - cross / sent * x) ** 2))
    return sent, cross, left / (x.size - 1), float(np.sum(np.abs(y) ** 2))


def _gain(middle: _Bands) -> tuple[float, float]:
    """Return the gain over all bands, by the power that was sent in each, and its ±, decibels."""
    copied = float(np.sum(middle.copied))
    error = float(np.sqrt(np.sum(2.0 * middle.fitted * middle.noise)))
    gain = _DB * np.log(copied / float(np.sum(middle.sent)))
    return float(gain), float(_DB * _NINETY_FIVE * error / copied)


def _polarity(middle: _Bands) -> Polarity:
    total = complex(np.sum(middle.cross))
    if abs(total.real) < _IN_PHASE * float(np.sum(np.abs(middle.cross))):
        return "unsure"
    return "inverted" if total.real < 0.0 else "normal"


def _highs(middle: _Bands, highs: _Bands | None) -> float | None:
    """Return by how much the highs lie over the middle, each third alike; None where they are covered."""
    up = None if highs is None else _mean_db(highs)
    across = _mean_db(middle)
    return None if up is None or across is None else up - across


def _mean_db(bands: _Bands) -> float | None:
    heard = bands.fitted > _CLEAR * bands.noise
    if 2 * np.count_nonzero(heard) < heard.size:
        return None
    return float(np.mean(_DB * np.log(bands.copied[heard] / bands.sent[heard])))
