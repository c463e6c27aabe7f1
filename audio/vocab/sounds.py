"""A sound that was kept: a phrase of one DI through one chain, recorded twice, and all known of it."""

from __future__ import annotations

import msgspec

from audio.vocab.results import ClickReading
from audio.vocab.wiring import Wiring


class Phrase(msgspec.Struct, frozen=True, kw_only=True):
    """The stretch of a DI that a sound is told by."""

    part: str
    revision: int
    from_frame: int
    """Of the DI."""
    frames: int
    """Without the rest behind it."""
    rest_frames: int
    """Silence behind it, in which what rings dies away and the noise is heard."""
    trim_db: float
    """The part's, as it was."""
    file: str
    """The stretch itself, faded at its ends; relative to the session's folder."""
    loudest_dbfs: float
    """Largest RMS of any 50 ms, before the trim."""

    @property
    def cycle_frames(self) -> int:
        """Length of the phrase with its rest: after so many frames it comes again."""
        return self.frames + self.rest_frames


class TakenFile(msgspec.Struct, frozen=True, kw_only=True):
    """What one input recorded of the phrase, time after time without a gap."""

    name: str
    """The return's, or ``witness``."""
    input: int
    """From 1."""
    path: str
    """Relative to the session's folder."""
    audio_sha256: str


class Sound(msgspec.Struct, frozen=True, kw_only=True):
    """The content of ``sound.json``; written once, after its recordings."""

    format: int = 1
    name: str
    made_at: str
    """Local time with offset, ISO 8601."""
    wiring: Wiring
    chain: str
    notes: str
    """What the engineer wrote of it: settings, places, anything."""
    phrase: Phrase
    kept_at: int
    """Frame of its files at which the phrase was recorded first, everything warm."""
    again_at: int
    """Frame at which it was recorded again."""
    shift_frames: int
    """Whole frames between the send and the files."""
    files: tuple[TakenFile, ...]
    """In the wiring's order of returns."""
    witness: TakenFile | None = None
    click: tuple[ClickReading, ...]
    """Of the returns, before it was recorded."""
    cable_frames: float | None = None
    """Round trip through the loop cable; None without one."""
