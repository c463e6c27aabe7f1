"""The listening page: what stands on it and what it plays, as values.

All frames here are the page's own: those of the session's rate, or of a half, a quarter … of it, where that
is more than a browser has to play.
"""

from __future__ import annotations

import msgspec

FASTEST_PAGE_RATE = 48_000
"""Frames a second of what the page plays; every browser plays that, and nobody hears more."""

FIRST_S, EACH_S = 2, 8
"""Seconds of a part's first piece and of all others: the first one short, so that sound comes soon."""

BACKING_DB = -6.0
"""Where the backing track stands until somebody turns it: heard, and not in the way."""


def decimation(rate: int) -> int:
    """Return of how many of a session's frames the page plays one: 1, 2, 4 and so on."""
    by = 1
    while rate > by * FASTEST_PAGE_RATE:
        by *= 2
    return by


def edges(frames: int, *, rate: int) -> tuple[int, ...]:
    """Return where pieces begin and the last one ends, in frames: 0, 2 s, then every 8 s.

    Parameters
    ----------
    frames
        How many there are to be cut, 1 or more.
    rate
        Frames a second.

    Returns
    -------
    tuple of int
        One more than there are pieces.
    """
    inner = range(FIRST_S * rate, frames, EACH_S * rate)
    return (0, *inner, frames)


class PageTrack(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces of sound that follow each other, and where they lie."""

    id: str
    """Names its files: ``sounds/ID-NUMBER.js``."""
    at: int = 0
    """Frame of the part at which its own frame 0 lies; may lie before the part's start."""
    frames: int
    """How many it has, from its frame 0 on."""
    first: int = 0
    """Number of the first piece that holds sound; those before it are silent and not there."""
    last: int
    """Number of the last such piece."""


class PageSound(msgspec.Struct, frozen=True, kw_only=True):
    """One sound that can be flipped to."""

    key: str
    """``002`` for a variant, ``original:close`` for an original."""
    title: str
    """Its name for people: chain, or what it was called since."""
    reason: str = ""
    """Why it was kept."""
    trouble: str = ""
    """What its verdict says where that is not good."""
    lies: str = ""
    """Where an original lies: ``lies 2.8 ms later than its DI``."""
    covers: str = ""
    """The section it is of, such as ``bars 5-8``; empty for the whole part."""
    loudness_lufs: float | None = None
    match_db: float = 0.0
    """What it is turned down by to be as loud as the quietest; 0 or less."""
    file_db: float = 0.0
    """What its files were turned by, so that 16 bits hold it well."""
    track: PageTrack


class PagePart(msgspec.Struct, frozen=True, kw_only=True):
    """One part and its sounds."""

    name: str
    rate: int
    """Frames a second."""
    frames: int
    """Until the last of its sounds has rung out."""
    sounds: tuple[PageSound, ...]
    backing: PageTrack | None = None
    backing_file_db: float = 0.0
    """What the backing track's files were turned by."""
    cut_matched_db: float = 0.0
    """What everything is turned down by in common so that nothing clips; 0 or less."""
    cut_plain_db: float = 0.0
    """The same with every sound as loud as it is."""
    first_bar: int = 1
    """Number of the first bar of `bars`."""
    bars: tuple[int, ...] = ()
    """Frames at which bars begin, the last one's end behind them; empty without a tempo."""


class PageSong(msgspec.Struct, frozen=True, kw_only=True):
    """One song and its parts."""

    name: str
    parts: tuple[PagePart, ...]


class Page(msgspec.Struct, frozen=True, kw_only=True):
    """All of a listening page."""

    session: str
    name: str
    """The hand-over's: ``harbour-lights-001``."""
    token: str
    """8 characters that tell this hand-over from any other."""
    songs: tuple[PageSong, ...]
