"""What was measured of an edited DI before it is sent: frozen values.

Frames count from the DI's first. A confidence is how sure the program is, 0 to 1: 1 − the share of findings
of that kind and size that were wrong on material with known truth.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.findings import Finding
from audio.vocab.results import AudioFacts, ClippedRun

JointKind = Literal["step", "slope"]
"""What breaks at an edit joint: the signal itself, or its slope."""

BetweenKind = Literal["hum", "handling", "slide", "noise"]
"""What is heard between phrases: mains lines; thuds and knocks; a slide, scrape or squeak along a string;
anything steadier."""

ATTACK_RISES_DB = 6.0
"""What is louder by this behind a place than before it is an attack: twice the amplitude. A cut from one
place of a ringing note to another stays within some decibels (common practice, no source)."""


class Hit(msgspec.Struct, frozen=True, kw_only=True):
    """One note or strummed chord as it was played."""

    frame: float
    """Where its first string begins to sound; a fraction of a frame."""
    width_ms: float = 0.0
    """From its first string to the last that stands out: a strum is at least so wide; 0 where one string,
    or all at once, were struck."""
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
    rise_db: float = 0.0
    """By how much the 15 ms behind it are louder than those before: an attack there hides it."""


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


class DiLevel(msgspec.Struct, frozen=True, kw_only=True):
    """How loud a DI is, and what was cut off it."""

    peak_dbfs: float
    true_peak_dbtp: float
    """Between the samples, ITU-R BS.1770-5 annex 2."""
    loudness_lufs: float | None
    """Integrated, ITU-R BS.1770-5, heard on one loudspeaker; None without a block over −70 LUFS."""
    crest_db: float | None
    """Peak over the RMS of all tenths of a second that are no rests; None where nothing is played."""
    dc: float
    """Mean of all samples, full scale 1."""
    clipped_runs: int
    """At full scale."""
    clipped: tuple[ClippedRun, ...]
    """The first of them."""


OtherChannels = Literal["none", "alike", "silent", "different"]
"""What a file of several channels holds beside the DI; ``alike``: the same samples on every channel."""


class DiMeasures(msgspec.Struct, frozen=True, kw_only=True):
    """All that was measured of one channel of a DI file."""

    facts: AudioFacts
    others: OtherChannels
    used_bits: int | None
    """Bits of an integer sample that are ever other than zero; None for floats and more than 24 bits."""
    level: DiLevel
    start: Edge
    end: Edge
    hits: tuple[Hit, ...]
    flat_tops: tuple[ClippedRun, ...] = ()
    """Tops that were cut off under full scale: clipped, and turned down since."""
    joints: tuple[EditJoint, ...]
    repeats: tuple[Repeat, ...]
    stops: tuple[DeadStop, ...]
    between: tuple[Between, ...]


class DiFinding(Finding, frozen=True, kw_only=True):
    """One thing worth saying of a DI; what it weighs is how sure it is to spoil a pass."""

    frame: int | None = None
    """Where, frames from the DI's first."""
    place: str = ""
    """The same in bars: ``bar 12 beat 3 and``; empty where no tempo is known."""
    size: float | None = None
    """How large, in `unit`."""
    unit: str = ""
    confidence: float = 1.0
    """0 to 1; 1 where it is simply so."""
