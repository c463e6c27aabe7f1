"""Joining two recordings of the same playing: where, how, and what was found there; values only."""

from __future__ import annotations

import msgspec

from audio.vocab.section import Covers


class Joint(msgspec.Struct, frozen=True, kw_only=True):
    """One place at which a recording goes over into another."""

    at_frame: int
    """Frame of the base's files in the middle of the fade."""
    correlation: tuple[float, ...]
    """Of the two recordings around it, −1 to 1, one for each return: the fade's gains follow from it."""
    level_db: tuple[float, ...]
    """Of the section's recording over the base's there, one for each return."""


class Joints(msgspec.Struct, frozen=True, kw_only=True):
    """Both places, and how the two recordings lie to each other."""

    enter: Joint | None
    """None where the section begins with the files."""
    leave: Joint | None
    """None where it ends with them."""
    apart_frames: float | None = None
    """By how much the section's recording comes later than the base's by their own likeness, once placed;
    None where they are not alike enough to tell."""


class JoinOrder(msgspec.Struct, frozen=True, kw_only=True):
    """``join.json``: all that is decided before a file of a drop-in is written."""

    format: int = 1
    number: int
    part: str
    base: int
    section: int
    made_at: str
    """Local time with offset, ISO 8601."""
    covers: Covers
    """What the section's variant covers."""
    section_at: int
    """Frame of the base's files at which frame 0 of the section's lies."""
    left_frames: float | None
    """What is left between the two placements after that; None where one is not known."""
    joints: Joints
    fade_frames: int
    paths: tuple[str, ...]
    """The new files relative to the session's folder, in the order of the base's."""
