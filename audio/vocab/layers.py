"""A sound as it is listened to: files laid over each other on the timeline of their part's DI."""

from __future__ import annotations

import msgspec

SoundName = str
"""How a face names a sound of a part: ``003`` is a variant, ``original:close`` an original, ``original``
the first of them, ``di`` the bare DI."""

DI = "di"
"""The bare DI, its newest revision."""

ORIGINAL = "original"
"""The first original; with a colon and its name behind it, one of several."""


class Layer(msgspec.Struct, frozen=True, kw_only=True):
    """One file of a sound, and where it lies."""

    name: str = ""
    """The return's, or ``di``, or ``original``."""
    path: str
    """Absolute."""
    channel: int = 0
    """From 0."""
    at_frame: int = 0
    """Frame of the timeline at which the file's first one lies; may lie before its start. Frame 0 of the
    timeline is the first one of the part's newest DI revision."""
    gain_db: float = 0.0


def original_key(name: str) -> SoundName:
    """Return how a part's original of a name is named as a sound."""
    return f"{ORIGINAL}:{name}"


def variant_key(number: int) -> SoundName:
    """Return how a part's variant is named as a sound: as its folder is."""
    return f"{number:03d}"
