"""What is true of a path through the room, known because it was built so."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Truth:
    """One path, from an output frame to the input frame of the same number."""

    delay_frames: float
    """Frames from the output to the first arrival: buffer, converters, pedals and air; the speaker's
    response begins there."""
    inverted: bool | None
    """Whether a positive pulse arrives negative; None where the chain leaves no polarity to know."""
    connected: bool
    """Whether what is sent arrives here at all, as things are now."""
    moves: bool = False
    """Whether the delay, or part of what arrives, moves with time (chorus, vibrato)."""
