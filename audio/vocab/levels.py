"""Levels that were measured: frozen values for the worker's pipe and for records.

All levels are plain ones: 0 dBFS is an absolute sample of 1.0, for peaks and RMS alike. A figure that could
not be measured is None, and a reason stands beside it.
"""

from __future__ import annotations

from typing import Literal

import msgspec


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
