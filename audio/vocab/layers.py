"""A sound as it is listened to: files laid over each other on the timeline of their part's DI."""

from __future__ import annotations

import re

import msgspec

from audio.vocab.characters import shown
from audio.vocab.names import name_problem

SoundName = str
"""How a face names a sound of a part: ``003`` is a variant, ``original:close`` an original, ``original``
the first of them, ``di`` the bare DI."""

DI = "di"
"""The bare DI, its newest revision."""

ORIGINAL = "original"
"""The first original; with a colon and its name behind it, one of several."""


_VARIANT = re.compile(r"(?!000)[0-9]{3}|[1-9][0-9]{3,8}", re.ASCII)


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


def variant_number(sound: str) -> int | None:
    """Return which variant a key names; None where it names none."""
    return int(sound) if _VARIANT.fullmatch(sound) else None


def original_name(sound: str) -> str | None:
    """Return which original a key names; None where it names none."""
    before = original_key("")
    return sound.removeprefix(before) if sound.startswith(before) else None


def sound_problem(sound: str) -> str | None:
    """Return why a key names no sound, with the way out; None when it does."""
    if sound == DI or variant_number(sound) is not None:
        return None
    name = original_name(sound)
    if name is not None:
        return name_problem(name)
    return f"{shown(sound)!r} names no sound; write a variant such as 003, original:close, or di"
