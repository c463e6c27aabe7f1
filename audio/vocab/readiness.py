"""What was measured of an edited DI before it is sent: frozen values.

Frames count from the DI's first. A confidence is how sure the program is, 0 to 1: 1 − the share of findings
of that kind and size that were wrong on material with known truth.
"""

from __future__ import annotations

from typing import Literal

import msgspec

JointKind = Literal["step", "slope"]
"""What breaks at an edit joint: the signal itself, or its slope."""

BetweenKind = Literal["hum", "handling", "slide", "noise"]
"""What is heard between phrases: mains lines; thuds and knocks; a slide, scrape or squeak along a string;
anything steadier."""


class Hit(msgspec.Struct, frozen=True, kw_only=True):
    """One note or strummed chord as it was played."""

    frame: float
    """Where its first string begins to sound; a fraction of a frame."""
    width_ms: float = 0.0
    """From its first string to its last; 0 where one string, or all at once, were struck."""
    level_dbfs: float
    """Peak within 50 ms from there."""
    confidence: float


class EditJoint(msgspec.Struct, frozen=True, kw_only=True):
    """A step in the signal, or in its slope, that no string makes."""

    frame: int
    """The first behind it."""
    kind: JointKind
    size_db: float
    """The step over the RMS of what linear prediction leaves of the signal around it."""
    confidence: float


class Repeat(msgspec.Struct, frozen=True, kw_only=True):
    """Material that is the same, sample for sample, as an earlier stretch, but for its gain."""

    frame: int
    frames: int
    of_frame: int
    """Where the earlier one begins."""
    gain_db: float = 0.0
    """Of the later over the earlier."""


class DeadStop(msgspec.Struct, frozen=True, kw_only=True):
    """Room noise that stops dead inside a phrase: a gap that was left, or a gate or a mute set hard."""

    frame: int
    """First frame of the quiet."""
    frames: int
    """How long it lasts."""
    before_dbfs: float
    """RMS of the noise that stops."""
    after_dbfs: float
    """RMS of what is left; −200 for digital silence."""
    confidence: float


class Between(msgspec.Struct, frozen=True, kw_only=True):
    """Something that is heard where nobody plays."""

    kind: BetweenKind
    frame: int
    frames: int
    level_dbfs: float
    """Its largest RMS of any 50 ms."""
    under_notes_db: float
    """How far that lies under the notes' usual level: the median of the hits' largest RMS of 50 ms."""
    hum_hz: Literal[50, 60] | None = None
    confidence: float


class Edge(msgspec.Struct, frozen=True, kw_only=True):
    """The DI's first or last frames."""

    silence_frames: int
    """Digital silence, or sound that nobody will hear, up to the first, or from the last, audible frame."""
    step_dbfs: float
    """Size of the step the file begins or ends with; −200 where there is none."""
    click_db: float
    """How far that step stands over the RMS of the 10 ms beside it; −200 where there is none."""
    fade_frames: int
    """Length of a fade, 0 where there is none."""
