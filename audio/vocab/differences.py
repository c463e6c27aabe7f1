"""Two sounds of one part beside each other: frozen values for the worker's pipe, files and the screen.

Every difference is B less A: what A would have to gain to sound like B. A figure that cannot be told is
None, and a reason stands beside it.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.layers import SoundName
from audio.vocab.levels import ThirdLevel
from audio.vocab.results import Echo

# ------------------------------------------------------------------ one sound

NoFall = Literal[
    "the DI never stops and rests",
    "the noise lies over it",
    "notes come again before it has died away",
]
"""Why nobody can tell how long a sound rings."""


class Rings(msgspec.Struct, frozen=True, kw_only=True):
    """How long a sound goes on where the DI has stopped."""

    falls_s: float | None
    """Until it stays 30 dB under what it was before the stop: the middle of all stops that tell it."""
    stops: int = 0
    """How many tell it."""
    reason: NoFall | None = None
    """Why `falls_s` is None."""


class SoundFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What one sound measures over the stretch, its microphones together. Silence reads −200 dBFS."""

    thirds: tuple[ThirdLevel, ...]
    """RMS where the DI plays: 50 Hz to 16 kHz, or what the rate allows; empty where it never plays."""
    loudness_lufs: float | None
    """Integrated (ITU-R BS.1770-5), heard on one loudspeaker as in a variant's record; None where no 400 ms
    are over −70 LUFS."""
    peak_dbfs: float
    true_peak_dbtp: float
    rms_dbfs: float
    crest_db: float | None
    """Peak over RMS in each 400 ms in which the DI plays loud, their mean; None where it never does."""
    noise_dbfs: float | None
    """RMS in the DI's rests, full band; None where there is no rest to hear it in."""
    hum_hz: int | None = None
    hum_dbfs: float | None = None
    """RMS of the lines of the mains there; None where none stands out, or there is no rest."""
    echo: Echo | None = None
    """Its repeats, told by the playing; None where none is clear."""
    rings: Rings


# ------------------------------------------------------------------ two sounds


class Apart(msgspec.Struct, frozen=True, kw_only=True):
    """How far two sounds lie from each other in one figure."""

    db: float
    plus_minus_db: float | None
    """How much of it moves by itself along the stretch: one standard error by the jackknife (Efron 1982);
    None where the stretch is too short to tell."""


class ThirdApart(msgspec.Struct, frozen=True, kw_only=True):
    """A third-octave band, at equal loudness."""

    hz: float
    """Nominal middle."""
    apart: Apart | None
    """None where noise covers one of the two, or both lie too far under the rest to be heard."""


ShapeKind = Literal["tilt", "above", "below", "around"]


class Shape(msgspec.Struct, frozen=True, kw_only=True):
    """One of the few simple shapes a difference of two spectra is made of."""

    kind: ShapeKind
    """A tilt, dB an octave; a shelf above or below a corner; a bump or dip around a middle."""
    hz: float | None
    """Corner, where half of a shelf's decibels are reached, or middle; None of a tilt."""
    apart: Apart


class Differences(msgspec.Struct, frozen=True, kw_only=True):
    """All that was measured of two sounds."""

    sample_rate: int
    from_frame: int
    """First frame that was compared, on the timeline of the part's newest DI."""
    frames: int
    a: SoundFigures
    b: SoundFigures
    loudness: Apart | None
    """None where one of them has no loudness; nothing of the tone is told then."""
    thirds: tuple[ThirdApart, ...] = ()
    shapes: tuple[Shape, ...] = ()
    """The largest first; at most three."""
    left_db: float | None = None
    """RMS of what the shapes leave of the bands; None where there are no bands."""
    crest: Apart | None = None
    rings_longer_s: float | None = None
    """By the stops that tell it of both; None where there is none."""
    rings_plus_minus_s: float | None = None
    """Its standard error; None where fewer than three stops tell it."""


class SoundsApart(msgspec.Struct, frozen=True, kw_only=True):
    """Two sounds of a part, named, and what is different in words; field names are relied on by scripts."""

    part: str
    a: SoundName
    b: SoundName
    a_text: str
    """What A is, for people: ``003 fuzz into delay``."""
    b_text: str
    covers: str
    """Which stretch: ``the whole``, ``bars 5-8``, ``12-18 s``."""
    differences: Differences
    words: tuple[str, ...]
    """What would make A sound like B, the largest first; one line at least."""
