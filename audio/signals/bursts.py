"""Bursts of a tone in a pattern nothing else plays, by which inputs that hear the send are told.

They hold three frequencies. The low one every loudspeaker plays; at the high ones a guitar's has
fallen far, steeply, so that what comes back of them as loud as each other came by a wire.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.vocab.bursts import Bursts
from audio.vocab.errors import UseError
from audio.vocab.units import db_from_ratio, ratio_from_db

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SLOT_S = 0.040
LOW_HZ = 625.0
"""25 Hz and more beside the lines of 50 Hz and 60 Hz mains: a mean over 40 ms has zeros 25 Hz apart."""

HIGH_HZ = (11_025.0, 16_025.0)
"""As far from the mains' lines, and apart from multiples of 1 kHz, where USB whines."""

_SHARES = (0.5, 0.25, 0.25)
"""Amplitude of each frequency, so that together they never exceed the peak."""

QUIET_S = 0.3
LATEST_S = 0.5
"""Latest arrival that is looked for, converters, air and digital pedals together."""

FADE_S = 0.005

PATTERN = (
    *(1, 1, 1, 1, 1, 0, 0, 1, 1, 0, 1, 0, 0, 1, 0, 0),
    *(0, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1, 0, 0, 0),
)
"""A maximum-length sequence of order 5 (x⁵ + x² + 1): shifted against itself it agrees no better than
chance, so neither a beat, a tremolo nor playing follows it."""


def bursts(*, rate: int, level_dbfs: float) -> tuple[Floats, Bursts]:
    """Make the bursts: silence, the pattern, and room for the latest arrival; 2 s in all.

    Parameters
    ----------
    rate
        Frames a second, 44 100 to 192 000.
    level_dbfs
        Peak that is never exceeded, dBFS · at most 0.

    Returns
    -------
    tuple[Floats, Bursts]
        (frames,) mono signal, linear, and everything needed to find it again.

    Raises
    ------
    UseError
        When a value is out of its range.
    """
    if not 44_100 <= rate <= 192_000:
        raise UseError(f"bursts need a rate from 44100 to 192000, not {rate}")
    if not level_dbfs <= 0.0:
        raise UseError(f"bursts cannot be louder than full scale, 0 dBFS, not {level_dbfs:g}")
    quiet, slot = round(QUIET_S * rate), round(SLOT_S * rate)
    sounding = np.repeat(np.asarray(PATTERN, dtype=np.float64), slot)
    tail = np.zeros(round(LATEST_S * rate))
    shape = np.concatenate((np.zeros(quiet), _faded(sounding, rate), tail))
    hz = (LOW_HZ, *HIGH_HZ)
    return _sounded(
        shape,
        Bursts(
            sample_rate=rate,
            hz=hz,
            tones_dbfs=_levels(level_dbfs, _SHARES),
            quiet_frames=quiet,
            slot_frames=slot,
            pattern=PATTERN,
            frames=shape.size,
        ),
    )


def _faded(sounding: Floats, rate: int) -> Floats:
    """Return a shape of zeros and ones with each edge rounded, half of the fade to each side."""
    bell = np.hanning(round(FADE_S * rate) // 2 * 2 + 1)
    return np.convolve(sounding, bell / np.sum(bell), mode="same")


def _levels(level_dbfs: float, shares: tuple[float, ...]) -> tuple[float, ...]:
    sine = np.sqrt(0.5)
    return tuple(db_from_ratio(ratio_from_db(level_dbfs) * share * sine) for share in shares)


def _sounded(shape: Floats, made: Bursts) -> tuple[Floats, Bursts]:
    at = np.arange(shape.size) / made.sample_rate
    heights = [ratio_from_db(level) * np.sqrt(2.0) for level in made.tones_dbfs]
    waves = [h * np.sin(2.0 * np.pi * hz * at) for h, hz in zip(heights, made.hz, strict=True)]
    return shape * np.sum(waves, axis=0), made
