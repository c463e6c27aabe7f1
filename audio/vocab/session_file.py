"""What ``session.yaml`` holds, as values; `audio.session.model` reads and writes them."""

from __future__ import annotations

import msgspec


class Revision(msgspec.Struct, frozen=True, kw_only=True):
    """One edit of a part's DI; its number is its place in the list, from 1."""

    file: str
    """Relative to the session's folder."""
    channel: int = 1
    """Channel of the file that is the DI, from 1."""
    file_sha256: str


class Original(msgspec.Struct, frozen=True, kw_only=True):
    """The mic'd amp recorded when the part was first played."""

    name: str
    """Which microphone or mix it is, such as ``close``."""
    file: str
    """Relative to the session's folder."""
    channel: int = 1
    """Channel of the file, from 1."""
    file_sha256: str


class Recorded(msgspec.Struct, frozen=True, kw_only=True):
    """How a part's DI was recorded, as somebody noted it then: what the amp must see follows from it."""

    input: int | None = None
    """Interface input, from 1."""
    box: str | None = None
    """DI box, in words, such as ``passive DI``."""
    pad_db: float | None = None
    """What box and pad took away ahead of the input, dB, −60 to 0."""
    gain: str | None = None
    """Where the input's knob stood, in words, such as ``12 o'clock``."""
    full_scale_dbu: float | None = None
    """Level of a sine at that input, its knob as it stood, that reads 0 dBFS at its peaks."""


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """One guitar DI of a song."""

    name: str
    trim_db: float = 0.0
    """Gain of this DI on its way out: how it was recorded decides it."""
    revisions: tuple[Revision, ...]
    """The newest is the last."""
    originals: tuple[Original, ...] = ()
    recorded: Recorded | None = None


class Backing(msgspec.Struct, frozen=True, kw_only=True):
    """A song's backing track: what players hear beside their part, of any number of channels.

    Its frames lie on the recorder's timeline as a DI's do: frame m at (its time stamp + m) / rate.
    """

    file: str
    """Relative to the session's folder."""
    file_sha256: str


class Song(msgspec.Struct, frozen=True, kw_only=True):
    """Tempo, metre, where its zero lies, its backing track, and its parts."""

    name: str
    bpm: float | None = None
    """Quarter notes a minute, 20 to 400; not used where there is a tempo file."""
    metre: str | None = None
    """Such as ``4/4``; of a tempo file's song used where that does not tell it."""
    tempo_file: str | None = None
    """A tempo map, relative to the session's folder: a Standard MIDI File, or a label text file."""
    song_start_s: float | None = None
    """Where bar 1, a MIDI file's tick 0, lies on the recorder's timeline, seconds, 0 to 86 400; frame m of
    a DI lies at (its time stamp + m) / rate there. Labels lie there themselves, so it is not used."""
    backing: Backing | None = None
    parts: tuple[Part, ...] = ()


class SessionFile(msgspec.Struct, frozen=True, kw_only=True):
    """The content of ``session.yaml``."""

    name: str
    wiring: str | None = None
    """Relative to the session's folder; None when none was chosen yet."""
    songs: tuple[Song, ...] = ()
