"""The interface's own mixer, where it lets an input back into the send."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from audio.device.simulated.faults import Fault, Faults
from audio.device.simulated.filters import Signal
from audio.device.simulated.inputs import LARGEST
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import SimulatedDevice

MIXER_FRAMES = 128
"""Frames the mixer takes to bring an input to an output; no longer piece can be mixed at once."""


class Monitor:
    """What the faults ``feedback`` and ``monitor leak`` add to the send."""

    def __init__(self, device: SimulatedDevice, faults: Faults) -> None:
        self._faults = faults
        self._first = device.microphones[0].input if device.microphones else 1
        self._late = np.zeros((MIXER_FRAMES, device.inputs))
        self.in_use = bool(faults.of("feedback", "monitor leak"))

    def mix(self, send: Signal, frame: int) -> Signal:
        """Return what leaves for a piece that is sent from `frame` on, shape (frames,) both."""
        mixed = send.copy()
        for fault, gain in self._gains(frame, send.size):
            number = fault.words["input"] or self._first
            mixed += gain * self._late[: send.size, number - 1]
        return np.clip(mixed, -1.0, LARGEST)

    def hear(self, heard: Signal) -> None:
        """Take what the inputs hold for that piece, shape (frames, inputs)."""
        self._late = np.concatenate((self._late[len(heard) :], heard))

    def _gains(self, frame: int, frames: int) -> Iterator[tuple[Fault, Signal]]:
        at = np.arange(frames)
        for fault, since in self._faults.lasting("feedback", frame=frame, frames=frames):
            yield fault, np.where(at < since, 0.0, ratio_from_db(fault.words["gain_db"]))
        for fault in self._faults.of("monitor leak"):
            if fault.plugged:
                level, turned = fault.words["level_db"], fault.words["turned_db"]
                before, after = ratio_from_db(level), ratio_from_db(level + turned)
                yield fault, np.where(at < fault.since(frame, frames), before, after)
