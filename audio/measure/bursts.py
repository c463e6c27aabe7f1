"""What one input heard of the set-up tone: whether it follows the pattern, and how loud.

Each frequency is mixed down to zero and averaged over the length of one place of the pattern; the
magnitudes alone are looked at, so nothing depends on the path's delay or on a pedal that moves it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace

from audio.measure.levels import FULL_SCALE, peak_dbfs, rms_dbfs
from audio.signals.bursts import LATEST_S
from audio.vocab.bursts import BurstReading, Bursts
from audio.vocab.errors import UseError
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STEADY_WINDOW_S = 0.2
"""Of a steady tone: short beside a hand on a knob, 125 periods of it."""

_HOPS = 4
"""In a place of the pattern: how finely the arrival is sought."""

_IN_ORDER = 0.95
"""Share of all pairs of a sounding and a resting place in which the sounding one is louder (Mann and
Whitney 1947): of 16 and 15 places of noise at one delay, it comes about once in 10⁵."""

_OVER_RESTS = 2.0
"""Median amplitude of the sounding places over that of the resting ones."""


def read_bursts(recording: NDArray[np.floating], bursts: Bursts) -> BurstReading:
    """Find a tone that comes and goes in the recording of one input.

    Parameters
    ----------
    recording
        (frames,) · linear, full scale 1.0 · at least `bursts.frames`; frame 0 is the tone's frame 0.
    bursts
        What was played.

    Returns
    -------
    BurstReading
        The gain of each frequency, or the reason why there is none.

    Raises
    ------
    UseError
        When the recording ends before the tone does.
    """
    if recording.shape[0] < bursts.frames:
        raise UseError(
            f"the recording of the set-up tone has {recording.shape[0]} frames of {bursts.frames}: "
            "let the roll run to its end"
        )
    sound = np.asarray(recording[: bursts.frames], dtype=np.float64)
    quiet, due = sound[: bursts.quiet_frames], sound[bursts.quiet_frames :]
    reading = BurstReading(noise_dbfs=rms_dbfs(quiet), peak_dbfs=peak_dbfs(due), reason="nothing")
    if not np.any(sound):
        return replace(reading, reason="digital silence")
    if np.any(np.abs(due) >= FULL_SCALE):
        return replace(reading, reason="clipped")
    return _found(reading, sound, bursts)


def steady_levels_dbfs(sound: NDArray[np.floating], *, hz: float, rate: int) -> tuple[float, ...]:
    """Return the RMS of one frequency in each whole `STEADY_WINDOW_S` of a (frames,) recording, dBFS."""
    window = round(STEADY_WINDOW_S * rate)
    at = np.arange(sound.shape[0] // window * window)
    mixed = np.asarray(sound, dtype=np.float64)[: at.size] * _turning(at, hz, rate)
    bell = np.hanning(window)
    heights = np.abs(mixed.reshape(-1, window) @ bell) * np.sqrt(2.0) / np.sum(bell)
    return tuple(db_from_ratio(float(height)) for height in heights)


def _found(reading: BurstReading, sound: Floats, bursts: Bursts) -> BurstReading:
    heights = _heights(sound, bursts.hz[0], bursts)
    before = heights[: _quiet_hops(bursts)]
    rows = _rows(heights, bursts)
    sounds = np.asarray(bursts.pattern, dtype=bool)
    at = int(np.argmax(np.median(rows[:, sounds], axis=1) - np.median(rows[:, ~sounds], axis=1)))
    if not _follows(rows[at], sounds):
        return reading
    noise = float(np.sqrt(np.mean(before**2)))
    return replace(
        reading,
        reason=None,
        gains_db=tuple(_gain_db(sound, number, at, bursts) for number in range(len(bursts.hz))),
        over_noise_db=db_from_ratio(float(np.median(rows[at, sounds]))) - db_from_ratio(noise),
    )


def _gain_db(sound: Floats, number: int, at: int, bursts: Bursts) -> float | None:
    row = _rows(_heights(sound, bursts.hz[number], bursts), bursts)[at]
    sounds = np.asarray(bursts.pattern, dtype=bool)
    if not _follows(row, sounds):
        return None
    return db_from_ratio(float(np.median(row[sounds]))) - bursts.tones_dbfs[number]


def _follows(row: Floats, sounds: NDArray[np.bool_]) -> bool:
    """Return whether the places that should sound do, and the others do not."""
    on, off = row[sounds], row[~sounds]
    in_order = float(np.mean(on[:, None] > off[None, :]))
    return in_order >= _IN_ORDER and float(np.median(on)) > _OVER_RESTS * float(np.median(off))


def _heights(sound: Floats, hz: float, bursts: Bursts) -> Floats:
    """Return the RMS of one frequency over the length of a place, at each hop."""
    hop = bursts.slot_frames // _HOPS
    mixed = sound * _turning(np.arange(sound.size), hz, bursts.sample_rate)
    hops = mixed[: sound.size // hop * hop].reshape(-1, hop).sum(axis=1)
    places = np.convolve(hops, np.ones(_HOPS), mode="valid") / (hop * _HOPS)
    return np.asarray(np.abs(places) * np.sqrt(2.0))


def _rows(heights: Floats, bursts: Bursts) -> Floats:
    """Return (delays, places): the height of each place of the pattern at each delay that is looked for."""
    hop = bursts.slot_frames // _HOPS
    starts = np.round(
        (bursts.quiet_frames + bursts.slot_frames * np.arange(len(bursts.pattern))) / hop
    )
    delays = np.arange(round(LATEST_S * bursts.sample_rate / hop) - _HOPS)
    return heights[np.asarray(starts, dtype=int)[None, :] + delays[:, None]]


def _quiet_hops(bursts: Bursts) -> int:
    return bursts.quiet_frames // (bursts.slot_frames // _HOPS) - _HOPS


def _turning(at: NDArray[np.integer], hz: float, rate: int) -> NDArray[np.complex128]:
    return np.asarray(np.exp(-2j * np.pi * ((at * (hz / rate)) % 1.0)))
