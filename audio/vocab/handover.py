"""What is handed over: which files, under which names, from where; values only."""

from __future__ import annotations

from typing import Literal

import msgspec

Start = Literal["recorded", "song"]
"""Where files begin: each where it was recorded, with its time stamp; or all of a song at one place."""

Kind = Literal["microphone", "blend", "di", "original", "backing"]

Also = Literal["di", "originals", "backing"]
"""What goes along with the sounds, where it is asked for."""

NAMES = "{song}/{part}_{number}_{chain}_{microphone}"
"""How files are named unless somebody says otherwise."""

BLEND = "blend"
"""What stands in a name in the place of the microphone, where all of them are in one file."""


class HandoverAsked(msgspec.Struct, frozen=True, kw_only=True):
    """What a person wants handed over, and how."""

    everything: bool = False
    """All variants that were not discarded, not only keepers."""
    parts: tuple[str, ...] = ()
    """Names of the only parts; none: all of them."""
    names: str = NAMES
    start: Start = "recorded"
    flac: bool = False
    """A FLAC file beside each."""
    blends: bool = False
    """A file more of each sound: its microphones in one, as balanced."""
    also: tuple[Also, ...] = ()
    sheet: bool = True
    """The recall sheet."""
    page: bool = True
    """The listening page."""


class Source(msgspec.Struct, frozen=True, kw_only=True):
    """A file of the session that is handed over, or is part of one that is."""

    file: str
    """Relative to the session's folder."""
    channel: int = 0
    """From 0."""
    at_frame: int
    """Frame of the recorder's timeline at which its first one lies."""
    gain_db: float = 0.0
    audio_sha256: str = ""
    """Of its samples as they were recorded; empty for what was brought in."""
    file_sha256: str = ""
    """Of the file as it was brought in; empty for what was recorded."""


class Piece(msgspec.Struct, frozen=True, kw_only=True):
    """One file that is handed over."""

    path: str
    """Relative to the hand-over's folder."""
    kind: Kind
    song: str
    part: str = ""
    """Empty for a backing track."""
    number: int | None = None
    """Of the variant."""
    microphone: str = ""
    """The return's, or the original's name."""
    sources: tuple[Source, ...]
    copied: bool
    """The source byte for byte; else its samples are written anew."""
    sample_rate: int
    depth: Literal[16, 24, 32]
    """32: floats."""
    channels: int = 1
    time_reference: int
    """Frame of the recorder's timeline at which the file begins."""
    frames: int
    flac: str = ""
    """Where the same lies as FLAC; empty where it was not asked for, or cannot be."""


class SongStart(msgspec.Struct, frozen=True, kw_only=True):
    """Where all files of a song begin."""

    song: str
    at_s: float
    """On the recorder's timeline."""
    before_bar_1_s: float | None = None
    """How long before bar 1 that is; None where nobody knows where bar 1 lies."""


class HandoverOrder(msgspec.Struct, frozen=True, kw_only=True):
    """All that was decided before the first file was written, so that anybody can go on with it."""

    format: int = 1
    name: str
    """The folder's, such as ``harbour-lights-001``."""
    token: str
    """What tells this hand-over from any other one."""
    session: str
    """The session's name."""
    made_at: str
    """Local time with offset, ISO 8601."""
    asked: HandoverAsked
    sounds: tuple[tuple[str, int], ...]
    """Part and number of each, in order."""
    pieces: tuple[Piece, ...]
    starts: tuple[SongStart, ...] = ()
    """One for each song where files begin at one place."""
    left_out: tuple[str, ...] = ()
    """What cannot be handed over, a sentence each."""


class HandoverNoted(msgspec.Struct, frozen=True, kw_only=True):
    """A hand-over as the journal has it."""

    name: str
    token: str
    sounds: dict[str, tuple[int, ...]]
    """Of each part the numbers of its variants."""


class FileDone(msgspec.Struct, frozen=True, kw_only=True):
    """A file that is whole."""

    path: str
    """Relative to the hand-over's folder."""
    sha256: str
    """Of all its bytes."""
    size: int
    """Bytes."""
    peak_dbfs: float | None = None
    """Where it was written anew."""
    depth: Literal[16, 24, 32] | None = None
    """The same: what its samples needed."""


class HandoverNow(msgspec.Struct, frozen=True, kw_only=True):
    """How far a hand-over is."""

    doing: str
    """What is being written."""
    files: int
    """That are whole."""
    of_files: int
    size: int
    """Bytes of them."""
    of_size: int
    """Bytes there will be, nearly."""


class HandedOver(msgspec.Struct, frozen=True, kw_only=True):
    """A hand-over that is whole."""

    name: str
    folder: str
    """Absolute."""
    token: str
    sounds: int
    files: int
    """Sound files; not those of the listening page."""
    size: int
    """Bytes of all files together."""
    resumed: bool
    """It was begun before, and gone on with."""
    left_out: tuple[str, ...] = ()
    """What could not be handed over, a sentence each."""
