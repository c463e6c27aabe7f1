"""What every pedal is to the room."""

from __future__ import annotations

from abc import ABC, abstractmethod

from audio.device.simulated.filters import Signal


class Pedal(ABC):
    """One pedal: a streaming process of one channel, and what it does to the truth."""

    latency: int = 0
    """Whole frames it is late for reasons of arithmetic; the room takes them out elsewhere."""
    delay_frames: float = 0.0
    """Frames by which it makes the first arrival later."""
    inverts: bool | None = False
    """Whether it turns the polarity; None where no polarity is left to know."""
    mutes: bool = False
    moves: bool = False
    """Whether it moves a delay with time."""

    @abstractmethod
    def process(self, signal: Signal) -> Signal:
        """Return what comes out for `signal`, shape (frames,) both; the argument stays as it is."""
