"""Levels that were measured: frozen values for the worker's pipe and for records.

All levels are plain ones: 0 dBFS is an absolute sample of 1.0, for peaks and RMS alike, unless a name says
otherwise. A figure that could not be measured is None, and a reason stands beside it.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.results import ClippedRun


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """One tone in a noise."""

    hz: float
    dbfs: float
    """RMS of the tone, what noise lies under it taken off."""


class MainsHum(msgspec.Struct, frozen=True, kw_only=True):
    """The mains frequency and its harmonics."""

    hz: Literal[50, 60]
    exact_hz: float
    """What the mains really had; it wanders by a tenth of a hertz or so."""
    dbfs: float
    """RMS of all lines together."""
    lines: tuple[Line, ...]
    """Those that stand out, in the order of their frequency."""


class Whine(msgspec.Struct, frozen=True, kw_only=True):
    """Tones of a USB bus: its clock's frequency and multiples of it."""

    hz: Literal[1000, 8000]
    """1000: full-speed frames; 8000: high-speed microframes, when no other multiple of 1000 stands out."""
    dbfs: float
    """RMS of all lines together."""
    lines: tuple[Line, ...]
    """Those that stand out, in the order of their frequency."""


class NoiseFloor(msgspec.Struct, frozen=True, kw_only=True):
    """The noise of a resting return, taken apart by kind. Direct current is left out of all of it."""

    rms_dbfs: float
    """Everything together, unweighted, over the whole band."""
    a_dbfs: float
    """Everything together, A-weighted (IEC 61672-1)."""
    hiss_dbfs: float | None
    """What is left when all lines are taken out, unweighted; None where `reason` is set."""
    hum: MainsHum | None = None
    """None where no line of the mains stands out."""
    whine: Whine | None = None
    """None where no line of USB stands out."""
    other_lines: tuple[Line, ...] = ()
    """Lines that are neither, the 20 loudest of them, in the order of their frequency."""
    reason: Literal["too short", "digital silence"] | None = None
    """Why nothing is taken apart: less than a second; all samples alike."""


class ThirdLevel(msgspec.Struct, frozen=True, kw_only=True):
    """How loud a sound is in one third-octave band (IEC 61260-1)."""

    hz: float
    """Its nominal middle."""
    dbfs: float
    """RMS."""


class SoundLevels(msgspec.Struct, frozen=True, kw_only=True):
    """Every level of one channel of a sound. Digital silence, or no frame at all, reads −200 dBFS."""

    frames: int
    peak_dbfs: float
    """Largest absolute sample."""
    true_peak_dbtp: float
    """Peak between the samples (ITU-R BS.1770-5, annex 2)."""
    rms_dbfs: float
    """Plain: a full-scale sine reads −3.01. Direct current is included."""
    rms_aes17_dbfs: float
    """The same over the RMS of a full-scale sine, which reads 0 (AES17)."""
    a_dbfs: float
    """A-weighted (IEC 61672-1), plain."""
    loudness_lufs: float | None
    """Integrated (ITU-R BS.1770-5); None where no 400 ms are over −70 LUFS."""
    speakers: Literal[1, 2]
    """On how many loudspeakers it is heard at that loudness."""
    thirds: tuple[ThirdLevel, ...]
    """50 Hz to 16 kHz, plain."""
    clipped_runs: int
    """Three samples at full scale in a row, or more."""
    first_clipped: tuple[ClippedRun, ...]
    """The first hundred of them."""
