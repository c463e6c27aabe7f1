"""The same sound as then, or what moved: frozen values for the worker's pipe, for files and the screen.

One stretch of one DI was sent through one chain at two times. What was recorded then is *kept*; recorded
then a second time in a row it is *again*, and what lies between those two is the floor: no comparison can
tell less. What is recorded today is *now*. Every difference is now less kept.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.alignment import Polarity


class Recorded(msgspec.Struct, frozen=True, kw_only=True):
    """One channel of a sound file, from some frame on."""

    path: str
    channel: int = 0
    """From 0."""
    at_frame: int = 0
    """Frame of the file at which the stretch begins."""


class Takes(msgspec.Struct, frozen=True, kw_only=True):
    """What one input recorded of the stretch, then and now; each lies where it was, to within 50 ms."""

    name: str
    kept: Recorded
    again: Recorded | None = None
    """The same, recorded right after `kept`; None leaves the floor unknown."""
    now: Recorded


# ------------------------------------------------------------------ what was measured


class BandDifference(msgspec.Struct, frozen=True, kw_only=True):
    """A third-octave band (IEC 61260-1), the moments in which it holds playing clear of the noise."""

    hz: float
    """Nominal midband frequency."""
    difference_db: float | None
    """None where too little of the playing is clear of the noise."""
    floor_db: float | None = None
    """How far the two kept recordings lie from each other here, 0 or more; None where it is unknown."""


class PlayingDifference(msgspec.Struct, frozen=True, kw_only=True):
    """Moments in which the DI plays about equally hard."""

    di_dbfs: float
    """Their mean level in the DI, RMS."""
    difference_db: float
    """How much louder they come back."""
    floor_db: float | None = None
    """As in `BandDifference`."""
    moments: int
    """How many there are."""


class Likeness(msgspec.Struct, frozen=True, kw_only=True):
    """One return, then and now."""

    name: str
    reason: str | None = None
    """Why nothing is told: one sentence with the way out. Else None, and `level_db` is known."""
    level_db: float | None = None
    """Mean over the moments in which the DI plays, noise taken off; every moment counts alike."""
    level_floor_db: float | None = None
    bands: tuple[BandDifference, ...] = ()
    """100 Hz to 5 kHz; empty where nothing is told."""
    playing: tuple[PlayingDifference, ...] = ()
    """From soft to hard."""
    bent_db: float | None = None
    """How much of it no filter makes of what was kept, noise taken off, under the whole: what a changed
    drive does and a changed level, tone or place does not; at most 0."""
    bent_floor_db: float | None = None
    """The same of the two kept recordings."""
    drive_db: float | None = None
    """How much harder the amp is driven, by how soft and hard playing and their harmonics changed; None
    where the amp bends too little to tell that from a level."""
    drive_floor_db: float | None = None
    crest_db: float | None = None
    """Change of the peak over the RMS while the DI plays."""
    crest_floor_db: float | None = None
    noise_db: float | None = None
    """Change of the RMS where the DI rests, full band; None where it never rests for long enough."""
    noise_floor_db: float | None = None
    delay_frames: float | None = None
    """How much later it lies in its file; what files and converters do to it is still in it."""
    delay_floor_frames: float | None = None
    """How much later the second of the two kept recordings lies, with its sign."""
    distance_cm: float | None = None
    """How much further the microphone stands; None where nothing tells it from the converters' delay."""
    distance_floor_cm: float | None = None
    polarity: Polarity = "unsure"
    """``inverted`` where it came back upside down since."""


class SoundsCompared(msgspec.Struct, frozen=True, kw_only=True):
    """All returns of a sound, then and now."""

    sample_rate: int
    playing_s: float
    """How long the DI plays in the stretch, rests left out."""
    kept_twice: bool
    """Whether the floor is known."""
    distance_by: Literal["cable", "other returns", "nothing"]
    """What distances are told against: witness, loop or patched cable; the middle of all returns; or
    nothing, and then none is told."""
    returns: tuple[Likeness, ...]
    """In the order asked for."""
    send_db: float | None = None
    """How much hotter the witness says the send is; None without one."""
    send_floor_db: float | None = None


# ------------------------------------------------------------------ what it means

Cause = Literal["nothing", "drive", "distance", "tone", "level", "noise", "unclear"]
"""What most likely moved; ``unclear`` where the chain itself moves by as much, or nothing was heard."""


class Moved(msgspec.Struct, frozen=True, kw_only=True):
    """What most likely moved since, and which way."""

    cause: Cause
    is_same: bool
    """Whether it is the same sound: every figure within its tolerance, whatever moved."""
    text: str
    """One sentence: what is different now, or that it is the same sound."""
    advice: str = ""
    """What to move and which way; empty where there is nothing to move."""
    returns: tuple[str, ...] = ()
    """Which returns it is heard on."""
    amount: float | None = None
    """Now less kept, in `unit`; None with ``nothing`` and ``unclear``."""
    unit: Literal["dB", "cm", ""] = ""
    hz: float | None = None
    """Where, for ``tone``."""
