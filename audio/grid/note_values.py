"""Note values in time: what a delay or a tremolo is set to, and which note a measured repeat is near.

A quarter note lasts 60 000 / bpm ms, whatever the metre; the others follow from it (common practice; the
tempo here is in quarter notes a minute, as in a MIDI file's tempo). Exact until the last step: fractions of
a quarter, divided by the tempo once.
"""

from __future__ import annotations

from fractions import Fraction

import msgspec

NAMES = ("whole", "half", "quarter", "eighth", "sixteenth", "thirty-second")

SHAPES: tuple[tuple[str, Fraction], ...] = (
    ("dotted ", Fraction(3, 2)),
    ("", Fraction(1)),
    ("triplet ", Fraction(2, 3)),
)
"""A dot makes a note half as long again; three of a triplet take the time of two."""

NEAR = 0.03
"""How far a time may lie from a note value to be told beside it: pedals' own displays and hands are no
better (common practice, no source)."""


class NoteValue(msgspec.Struct, frozen=True, kw_only=True):
    """One note value at a tempo."""

    name: str
    """Such as ``dotted eighth``."""
    ms: float
    hz: float
    """How often it comes in a second: what a tremolo's speed is told in."""


def note_values(bpm: float) -> tuple[NoteValue, ...]:
    """Return every note value at a tempo, the longest first.

    Parameters
    ----------
    bpm
        Quarter notes a minute, more than 0.

    Returns
    -------
    tuple of NoteValue
        Whole to thirty-second, each dotted, plain and triplet.
    """
    quarter_ms = Fraction(60_000) / Fraction(bpm)
    found = []
    for power, name in enumerate(NAMES):
        for shape, factor in SHAPES:
            length = quarter_ms * factor * 4 / 2**power
            found.append(
                NoteValue(name=f"{shape}{name}", ms=float(length), hz=float(1000 / length))
            )
    return tuple(sorted(found, key=lambda one: -one.ms))


def nearest(ms: float, *, bpm: float) -> NoteValue | None:
    """Return the note value that a time is near, None where it is near none.

    Parameters
    ----------
    ms
        The time, more than 0.
    bpm
        Quarter notes a minute, more than 0.

    Returns
    -------
    NoteValue | None
        Within `NEAR` of the time, in proportion.
    """
    best = min(note_values(bpm), key=lambda one: abs(one.ms / ms - 1.0))
    return best if abs(best.ms / ms - 1.0) <= NEAR else None
