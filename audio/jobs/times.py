"""What a delay or a tremolo is set to at a tempo."""

from __future__ import annotations

import msgspec

from audio.grid.note_values import NoteValue, note_values
from audio.session.model import BPM
from audio.vocab.errors import UseError


class Times(msgspec.Struct, frozen=True, kw_only=True):
    """Every note value at a tempo."""

    bpm: float
    """Quarter notes a minute."""
    notes: tuple[NoteValue, ...]
    """The longest first."""


def times(bpm: float) -> Times:
    """Return every note value at a tempo; `UseError` if it is none a song here can have."""
    if not BPM[0] <= bpm <= BPM[1]:
        raise UseError(
            f"a tempo of {bpm:g} is out of range; give quarter notes a minute, {BPM[0]} to {BPM[1]}"
        )
    return Times(bpm=bpm, notes=note_values(bpm))
