"""The recall sheet: what stands on it, and what the worker tells for it; frozen values."""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.alignment import Polarity
from audio.vocab.chain import Chain
from audio.vocab.levels import SoundLevels
from audio.vocab.opinion import Opinion
from audio.vocab.session_file import Recorded
from audio.vocab.setup import SetupRecord
from audio.vocab.variant import Variant
from audio.vocab.wiring import Wiring

LONGEST_SIDE = 1400
"""Pixels of a photo's longer side on the sheet: 18 cm at 200 to the inch."""

# ------------------------------------------------------------------ what the worker tells


class BarMark(msgspec.Struct, frozen=True, kw_only=True):
    """Where a bar begins on a picture's time axis."""

    at_s: float
    """Seconds from the DI's first frame."""
    bar: int


class FileTold(msgspec.Struct, frozen=True, kw_only=True):
    """One file over the reference phrase, and drawn whole."""

    name: str
    levels: SoundLevels
    """Over the phrase."""
    noise_dbfs: float | None
    """RMS of the quietest half second of the phrase in which the DI rests; None where it never does."""
    hum_hz: Literal[50, 60] | None = None
    hum_dbfs: float | None = None
    wave: str = ""
    """SVG: the whole file; empty of an original and of the DI, which are read over the phrase only."""

    @property
    def crest_db(self) -> float:
        """Peak over RMS."""
        return self.levels.peak_dbfs - self.levels.rms_dbfs


class SoundTold(msgspec.Struct, frozen=True, kw_only=True):
    """A sound over the reference phrase."""

    di: FileTold
    files: tuple[FileTold, ...]
    originals: tuple[FileTold, ...]
    thirds: str
    """SVG: third-octave levels of files and originals at equal loudness, the files numbered from 1, the
    originals lettered from a."""


class PhotoShown(msgspec.Struct, frozen=True, kw_only=True):
    """A photo made ready for the sheet."""

    jpeg: bytes
    """Upright, `LONGEST_SIDE` at most, nothing in it but the picture."""
    width: int
    height: int


# ------------------------------------------------------------------ what stands on it


class OriginalTold(msgspec.Struct, frozen=True, kw_only=True):
    """Where the first recording of the amp lies, and how loud it is beside what was kept."""

    part: str
    name: str
    """The original's."""
    offset_frames: float | None
    """How much later than its DI its first arrival is, time stamps taken into account; None where
    `reason` is set."""
    plus_minus_frames: float | None
    """Half width of the 95 % interval."""
    offset_ms: float | None
    revision: int | None = None
    """Which edit of the DI that is told against: the newest that it follows."""
    at_frame: int | None = None
    """Frame of the newest DI's timeline at which its file begins once its playing is brought onto the
    DI's: by the music, or by its time stamp where the music does not tell. None where it cannot be read."""
    polarity: Polarity
    match_db: float | None
    """Gain that makes it as loud as the part's sounds are on the average, over the DI's loudest minute;
    None where either is silent, or a file cannot be read."""
    text: str
    """Such as ``2.8 ms later than its DI``; else why it is not known."""
    reason: str | None = None
    """Why there is no offset: one sentence with the way out."""


class ReferencePhrase(msgspec.Struct, frozen=True, kw_only=True):
    """The stretch of the DI by which a sound is proven."""

    from_frame: int
    """Of the DI that the sound was made from."""
    frames: int
    bars: str
    """``bars 3 to 8``; empty where the song has no tempo."""
    sound: str = ""
    """Name of the kept sound it belongs to; empty where it is the loudest stretch."""
    floors: tuple[str, ...] = ()
    """What two takes in a row of that sound differ by, a return a line."""


class PhotoLine(msgspec.Struct, frozen=True, kw_only=True):
    """A photo that was named."""

    name: str
    shown: PhotoShown | None = None
    problem: str = ""
    """Why it is not shown."""


class SheetSound(msgspec.Struct, frozen=True, kw_only=True):
    """One sound: all that is known of how it was made."""

    variant: Variant
    opinion: Opinion
    chain: Chain | None
    """As it was set, corrected where somebody corrected it; None where nobody wrote its settings down."""
    chain_name: str
    loose_settings: str = ""
    """What stands there as settings where it is none that this program writes."""
    wiring: Wiring | None = None
    """As it was; None where its record cannot be read."""
    recorded: Recorded | None = None
    """How the DI was recorded."""
    bpm: float | None = None
    """Of the song, where it has one tempo."""
    setup: tuple[SetupRecord, ...] = ()
    """The records it was made under, in their order."""
    unset: tuple[str, ...] = ()
    """Steps that were not set, or not any more, then; in words."""
    phrase: ReferencePhrase | None = None
    told: SoundTold | None = None
    untold: str = ""
    """Why there are no figures and pictures."""
    photos: tuple[PhotoLine, ...] = ()
    newest_revision: int


class SheetPart(msgspec.Struct, frozen=True, kw_only=True):
    """A part with its sounds."""

    song: str
    tempo: str
    """``96 bpm, 4/4``; empty where it is not known."""
    part: str
    originals: tuple[OriginalTold, ...]
    sounds: tuple[SheetSound, ...]


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """The whole sheet."""

    session: str
    name: str
    """The hand-over's."""
    made_at: str
    """Local time with offset, ISO 8601."""
    parts: tuple[SheetPart, ...]
    left_out: tuple[str, ...]
    """Sentences."""


class SheetMade(msgspec.Struct, frozen=True, kw_only=True):
    """What making a sheet left besides the file."""

    left_out: tuple[str, ...]
    """What could not be put on it, a sentence each."""
    originals: tuple[OriginalTold, ...]
    """Of all its parts."""
