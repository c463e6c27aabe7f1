"""The set-up tone: how it was written, and what an input heard of it."""

from __future__ import annotations

from typing import Literal

import msgspec


class Bursts(msgspec.Struct, frozen=True, kw_only=True):
    """A tone as it was written to a file: everything needed to find it again."""

    sample_rate: int
    hz: tuple[float, ...]
    """Its frequencies, the lowest first: that one tells who hears it, the others what they hear."""
    tones_dbfs: tuple[float, ...]
    """RMS of each of them while it sounds."""
    quiet_frames: int
    """Silence before it: where noise is measured."""
    slot_frames: int
    """Length of one place of `pattern`."""
    pattern: tuple[int, ...]
    """1 where it sounds, 0 where it rests."""
    frames: int
    """Length of the file; silence at its end waits for the latest arrival."""


class BurstReading(msgspec.Struct, frozen=True, kw_only=True):
    """What one input heard of a tone that comes and goes."""

    gains_db: tuple[float | None, ...] = ()
    """Of each frequency over what was sent; None where it does not stand out; empty with a reason."""
    over_noise_db: float | None = None
    """The lowest frequency over the noise beside it, seen through one place of the pattern."""
    noise_dbfs: float
    """RMS before the tone, full band."""
    peak_dbfs: float
    """Largest sample while it was due."""
    reason: Literal["nothing", "digital silence", "clipped"] | None = None
    """Why there is no gain: nothing follows the pattern; all samples zero; the converter clipped."""
