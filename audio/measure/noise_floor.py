"""The noise of a resting return taken apart: hum of the mains, whine of USB, other tones, and the hiss.

Tones are looked for in power over frequency seen through windows of a second. The noise under them is the
median of its surroundings, which tones, being few, do not move.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import msgspec
import numpy as np
from scipy.ndimage import median_filter

from audio.measure.levels import rms_dbfs
from audio.measure.spectrum import NARROW_REACH_HZ, narrow, power_by_hz
from audio.measure.weighting import a_weighted_dbfs
from audio.vocab.levels import Line, MainsHum, NoiseFloor, Whine
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SHORTEST_S = 1.0
"""Less does not tell the lines of 50 and 60 Hz from the noise between them."""

HUM_UP_TO_HZ = 2000.0
"""Harmonics of the mains are looked for up to here."""

MAINS_OFF = 0.005
"""How far the mains may be off 50 or 60 Hz, as a share: EN 50160 has 49.5 to 50.5 Hz (from memory)."""

USB_HZ = 1000.0
USB_OFF = 500e-6
"""How far a bus's clock may be off, as a share: USB 2.0, 7.1.11 (from memory)."""

_MICROFRAMES = 8
"""In a frame of USB high speed."""

MOST_OTHERS = 20

_STANDS_OUT = 20.0
"""Power of a line's hertz over the noise around it, seen through many windows; twice that through one,
where a hertz of noise varies most, and so does the median it is held against."""

_AROUND_HZ = 61
"""Hertz the median is taken of: lines 50 Hz apart cover 9 of each 50."""

_REACH = NARROW_REACH_HZ
_LOWEST_HZ = 2 * _REACH
"""Under this it is drift of a converter, and what is left of direct current."""

_NEAR_HZ = 0.5
"""How far a line may be read off its place: one that just stands out is read 0.1 Hz off."""

_MUST_BE_AMONG = 3
"""Hum has one of its first three lines: from the fifth on, lines of 50 Hz are also lines of 60."""

_OVER_ITS_LIKE = 10.0
"""Power by which a line at a multiple of mains and USB is over the hum's lines beside it where it is the
bus's: hum falls from line to line and never jumps up alone (common practice, no source)."""

_BESIDE = 2
"""Harmonics to both sides that are compared: rectified mains has every second only."""


@dataclass(frozen=True)
class _Tone:
    """A line that stands out, and the hertz it covers."""

    hz: float
    power: float
    over: float
    """Power of its highest hertz over the noise there."""
    low: int
    high: int
    """The hertz behind the last it covers."""


@dataclass(frozen=True)
class _Hum:
    """The lines of the mains, by harmonic."""

    hz: Literal[50, 60]
    exact_hz: float
    lines: dict[int, _Tone]


def noise_floor(signal: NDArray[np.floating], *, rate: int) -> NoiseFloor:
    """Take the noise of a resting return apart by kind.

    Parameters
    ----------
    signal
        (frames,) · linear, full scale 1.0 · a stretch in which nothing sounds, of a second at least; two
        to ten are better. Direct current is taken out.
    rate
        Frames a second.

    Returns
    -------
    NoiseFloor
        Levels, lines and hiss; with a `reason` and the two levels only where it is too short or digital
        silence.
    """
    alternating = np.asarray(signal, dtype=np.float64)
    alternating = alternating - np.mean(alternating) if alternating.size else alternating
    reason: Literal["too short", "digital silence"] | None = None
    if not np.any(alternating):
        reason = "digital silence" if alternating.size >= SHORTEST_S * rate else "too short"
    elif alternating.size < SHORTEST_S * rate:
        reason = "too short"
    whole = NoiseFloor(
        rms_dbfs=rms_dbfs(alternating),
        a_dbfs=a_weighted_dbfs(alternating, rate=rate),
        hiss_dbfs=None,
        reason=reason,
    )
    if reason:
        return whole
    windows = 2 * alternating.size // rate - 1
    power = power_by_hz(alternating, rate=rate, window=narrow)
    return _apart(whole, power, windows=windows)


def _apart(whole: NoiseFloor, power: Floats, *, windows: int) -> NoiseFloor:
    """Return the noise floor with its kinds told apart."""
    under = _under(power, windows=windows)
    tones = _tones(power, under, above=_STANDS_OUT * (1.0 + 1.0 / windows))
    hum = _hum(tones)
    hums = list(hum.lines.values()) if hum else []
    buses = [tone for tone in tones if tone not in hums and _of_usb(tone)]
    others = [tone for tone in tones if tone not in hums and tone not in buses]
    loudest = sorted(others, key=lambda tone: tone.power)[-MOST_OTHERS:]
    return msgspec.structs.replace(
        whole,
        hiss_dbfs=_hiss_dbfs(power, under, tones),
        hum=_told(hum) if hum else None,
        whine=_whine(buses),
        other_lines=_lines(loudest),
    )


def _hiss_dbfs(power: Floats, under: Floats, tones: Sequence[_Tone]) -> float:
    """Return the level of the noise with what lies under its lines filled in."""
    hiss = power.copy()
    for tone in tones:
        hiss[tone.low : tone.high] = under[tone.low : tone.high]
    return _db(float(np.sum(hiss)))


# ------------------------------------------------------------------ lines


def _under(power: Floats, *, windows: int) -> Floats:
    """Return the mean power of the noise at each hertz, whatever lines stand in it."""
    # The mean of so many exponentials; median over mean after Wilson and Hilferty 1931.
    median_over_mean = (1.0 - 1.0 / (9.0 * windows)) ** 3
    # At the ends the band is mirrored: its last hertz over and over would be the median by itself.
    middle = median_filter(power[_LOWEST_HZ:], size=_AROUND_HZ, mode="reflect") / median_over_mean
    everywhere = np.concatenate((np.full(_LOWEST_HZ, middle[0]), middle))
    return np.asarray(np.maximum(everywhere, np.finfo(np.float64).tiny))


def _tones(power: Floats, under: Floats, *, above: float) -> list[_Tone]:
    """Return what stands out of the noise, each with the hertz that a steady tone covers."""
    tops = [
        int(at)
        for at in np.flatnonzero(power > above * under)
        if _LOWEST_HZ <= at < power.size - 1  # half the rate itself varies more than the rest
        and power[at] == np.max(power[at - _REACH : at + _REACH + 1])
    ]
    if not tops:
        return []
    edges = [(below + at) // 2 + 1 for below, at in pairwise(tops)]
    lows, highs = [0, *edges], [*edges, power.size]
    return [
        _tone(power, under, at, max(low, at - _REACH), min(high, at + _REACH + 1))
        for at, low, high in zip(tops, lows, highs, strict=True)
    ]


def _tone(power: Floats, under: Floats, at: int, low: int, high: int) -> _Tone:
    alone = np.maximum(power[low:high] - under[low:high], 0.0)
    return _Tone(
        # The centre of what a window makes of a tone is the tone.
        hz=float(np.dot(alone, np.arange(low, high)) / np.sum(alone)),
        power=float(np.sum(alone)),
        over=float(power[at] / under[at]),
        low=low,
        high=high,
    )


# ------------------------------------------------------------------ families


def _hum(tones: Sequence[_Tone]) -> _Hum | None:
    """Return the lines of the mains: the louder family where both are there."""
    found = [hum for hum in (_family(tones, 50), _family(tones, 60)) if hum is not None]
    return max(found, key=lambda hum: sum(tone.power for tone in hum.lines.values()), default=None)


def _family(tones: Sequence[_Tone], hz: Literal[50, 60]) -> _Hum | None:
    """Return the lines that are harmonics of one frequency near `hz`: of that which has most of them."""
    near = {
        tone: harmonic
        for tone in tones
        if (harmonic := round(tone.hz / hz))
        and abs(tone.hz - harmonic * hz) <= MAINS_OFF * tone.hz + _NEAR_HZ
        and tone.hz <= HUM_UP_TO_HZ + _NEAR_HZ
    }
    sets = [_agreeing(near, tone.hz / harmonic) for tone, harmonic in near.items()]
    lines = max(sets, key=lambda lines: sum(np.log(t.over) for t in lines.values()), default={})
    lines = {harmonic: tone for harmonic, tone in lines.items() if _is_hum(tone, harmonic, lines)}
    if min(lines, default=_MUST_BE_AMONG + 1) > _MUST_BE_AMONG:
        return None
    return _Hum(hz=hz, exact_hz=_fundamental(lines), lines=lines)


def _agreeing(near: dict[_Tone, int], exact_hz: float) -> dict[int, _Tone]:
    return {k: tone for tone, k in near.items() if abs(tone.hz - k * exact_hz) <= _NEAR_HZ}


def _is_hum(tone: _Tone, harmonic: int, lines: dict[int, _Tone]) -> bool:
    """Return whether a line is the mains', not the bus's where the two coincide."""
    around = range(harmonic - _BESIDE, harmonic + _BESIDE + 1)
    beside = [lines[k].power for k in around if k in lines and k != harmonic]
    return not _of_usb(tone) or tone.power <= _OVER_ITS_LIKE * max(beside, default=0.0)


def _fundamental(lines: dict[int, _Tone]) -> float:
    """Return the frequency whose harmonics lie nearest to the lines, loud ones counting most."""
    # Least squares; the variance of a line's frequency goes with noise over power.
    weights = {k: tone.over for k, tone in lines.items()}
    above = sum(weights[k] * k * tone.hz for k, tone in lines.items())
    return above / sum(weights[k] * k * k for k in lines)


def _of_usb(tone: _Tone) -> bool:
    off = abs(tone.hz - USB_HZ * round(tone.hz / USB_HZ))
    return tone.hz > USB_HZ / 2 and off <= USB_OFF * tone.hz + _NEAR_HZ


# ------------------------------------------------------------------ told


def _told(hum: _Hum) -> MainsHum:
    tones = list(hum.lines.values())
    return MainsHum(hz=hum.hz, exact_hz=hum.exact_hz, dbfs=_together(tones), lines=_lines(tones))


def _whine(buses: Sequence[_Tone]) -> Whine | None:
    if not buses:
        return None
    high_speed = all(round(tone.hz / USB_HZ) % _MICROFRAMES == 0 for tone in buses)
    return Whine(hz=8000 if high_speed else 1000, dbfs=_together(buses), lines=_lines(buses))


def _lines(tones: Sequence[_Tone]) -> tuple[Line, ...]:
    in_order = sorted(tones, key=lambda tone: tone.hz)
    return tuple(Line(hz=tone.hz, dbfs=_db(tone.power)) for tone in in_order)


def _together(tones: Sequence[_Tone]) -> float:
    return _db(sum(tone.power for tone in tones))


def _db(power: float) -> float:
    return db_from_ratio(float(np.sqrt(power)))
