"""What is measured while a stretch of a DI goes round, and of an edit beside its raw DI: frozen values.

A failure to measure is a value too: the figure is None, and a reason stands beside it.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.alignment import Polarity


class Stretch(msgspec.Struct, frozen=True, kw_only=True):
    """A piece of a file."""

    at_frame: int
    frames: int
    rms_dbfs: float
    """RMS of the whole stretch."""


class CopyBack(msgspec.Struct, frozen=True, kw_only=True):
    """What came back of something that was sent round, over one whole cycle of it."""

    gain_db: float | None
    """Over what was sent, 200 Hz to 2 kHz, what was loud counting most; None where `reason` is set."""
    plus_minus_db: float | None = None
    """Half width of its 95 % interval, by the noise in that cycle."""
    delay_frames: int | None = None
    """Whole frames from what was sent to its copy."""
    polarity: Polarity = "unsure"
    highs_db: float | None = None
    """Gain at 5 to 10 kHz over that at 200 Hz to 2 kHz, each third of an octave alike; None where noise
    covers it or nothing was sent there."""
    peak_dbfs: float
    """Largest sample of what came back."""
    noise_dbfs: float | None = None
    """RMS before anything was sent, full band; None where there was no time to tell."""
    hum_hz: Literal[50, 60] | None = None
    hum_dbfs: float | None = None
    """RMS of the mains lines there, where they stand out."""
    reason: Literal["nothing", "digital silence", "nothing sent"] | None = None
    """Why there is no gain: no copy clear of the noise; all samples zero; what was sent has nothing in
    that band."""


class CycleLevels(msgspec.Struct, frozen=True, kw_only=True):
    """How loud one whole cycle came back."""

    peak_dbfs: float
    true_peak_dbfs: float
    """Peak between the samples, ITU-R BS.1770-5 annex 2, dBTP."""
    rms_dbfs: float
    clipped_samples: int
    """At the converter's full scale."""
    noise_dbfs: float
    """RMS before anything was sent, full band."""


class EditGain(msgspec.Struct, frozen=True, kw_only=True):
    """An edited DI held against the raw one, note by note: edits move notes, a gain moves all alike."""

    gain_db: float | None
    """Median over the notes that were found again, edited over raw; None where `reason` is set."""
    spread_db: float | None = None
    """Half of what lies between the 10th and the 90th hundredth of them: 0 for a plain gain."""
    notes: int = 0
    """Of those looked for, how many were found again."""
    looked_for: int = 0
    peak_dbfs: float
    """Of the edit."""
    raw_peak_dbfs: float
    reason: Literal["no notes", "not found"] | None = None
    """Why there is no gain: the edit has no clear attacks; too few of them lie in the raw DI."""
