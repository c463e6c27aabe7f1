"""Units and their conversions, in plain floats.

Levels are decibels relative to full scale (dBFS): 0 dBFS is an absolute sample value of 1.0, for
peaks and for RMS alike (an RMS of a full-scale sine reads −3.01; AES17 would call it 0).
"""

from __future__ import annotations

import math

SINE_DB = 10.0 * math.log10(2.0)
"""Peak of a sine over its RMS, 3.01 dB: by so much an RMS after AES17 reads more than a plain one."""

FASTEST_RATE = 768_000
"""Frames a second, four times what interfaces run at; more is damage."""

SILENCE_DBFS = -200.0
"""The level reported for digital silence, where the logarithm would be minus infinity."""


def ratio_from_db(db: float) -> float:
    """Return the amplitude ratio of a level difference in decibels (20·log10 convention)."""
    return math.exp(db * (math.log(10.0) / 20.0)) if db else 1.0


def db_from_ratio(ratio: float) -> float:
    """Return the level in decibels of an absolute amplitude ratio, at least `SILENCE_DBFS`."""
    return max(SILENCE_DBFS, 20.0 * math.log10(ratio)) if ratio > 0.0 else SILENCE_DBFS


def clock_time(seconds: float) -> str:
    """Return a time as ``m:ss``, whole seconds rounded down; what lies before zero reads 0:00."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


def signed(number: float, *, digits: int = 0) -> str:
    """Return a number for prose, with a true minus sign; what an engineer types keeps the hyphen."""
    return f"{number:z.{digits}f}".replace("-", "\N{MINUS SIGN}")


def shortest(number: float) -> str:
    """Return a number for prose with no more digits than it has, with a true minus sign."""
    return f"{number:g}".replace("-", "\N{MINUS SIGN}")


def with_sign(number: float, *, digits: int = 0) -> str:
    """Return a number for prose with its sign, whichever it is: a change, not a size."""
    return f"{number:+z.{digits}f}".replace("-", "\N{MINUS SIGN}")


def ms_from_frames(frames: float, *, rate: int) -> float:
    """Return the milliseconds that `frames` last at `rate` frames a second."""
    return 1000.0 * frames / rate
