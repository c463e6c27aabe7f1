"""What cannot be measured as asked: said before anything counts down, and again by the step itself."""

from __future__ import annotations

from audio.vocab.errors import UseError
from audio.vocab.session_file import Part
from audio.vocab.setup import AskReturnGain

WINDOW_DBFS = (-60.0, 0.0)
"""Range of the ends of a window of peaks."""

DBA = (40.0, 140.0)
"""Range of what a sound level meter can have read beside an amp."""


def input_of(part: Part, said: int | None) -> int:
    """Return the input that recorded a part, from 1: as was said, or as it was noted.

    `UseError` if it was neither.
    """
    noted = part.recorded.input if part.recorded else None
    number = noted if said is None else said
    if number is None:
        raise UseError(
            f"nobody noted which input recorded {part.name}; name it (--di-input N), or write"
            " recorded: {input: N} at the part in session.yaml"
        )
    return number


def refuse_levels(asked: AskReturnGain) -> None:
    """Raise `UseError` for a window of peaks, or a level at the ears, that cannot be."""
    low, high = asked.low_dbfs, asked.high_dbfs
    if not WINDOW_DBFS[0] <= low < high <= WINDOW_DBFS[1]:
        raise UseError(
            f"a window of {low:g} to {high:g} dBFS cannot be; give its lower end first, low under high,"
            f" between {WINDOW_DBFS[0]:g} and {WINDOW_DBFS[1]:g} both"
        )
    if asked.dba is not None and not DBA[0] <= asked.dba <= DBA[1]:
        raise UseError(
            f"{asked.dba:g} dBA cannot be; type what the meter read, {DBA[0]:g} to {DBA[1]:g}"
        )
