"""Meters: peak and RMS over the last 50 ms, peak hold and clip counts since the roll began."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audio.vocab.status import Meters

STRETCH_S = 0.025
"""Two of these are shown together."""

FULL_SCALE = 1.0 - 2.0**-23
"""The largest positive 24-bit code; at or over it a converter has clipped."""


class MeterBank:
    """Levels of all channels of the stream, inputs first.

    Parameters
    ----------
    rate
        Frames a second.
    channels
        Inputs and outputs together.
    """

    def __init__(self, *, rate: int, channels: int) -> None:
        self._stretch = round(STRETCH_S * rate)
        self._have = 0
        self._peak = np.zeros(channels, dtype=np.float32)
        self._square = np.zeros(channels)
        self._shown: list[tuple[NDArray[np.float32], NDArray[np.float64]]] = []
        self.reset_holds()

    def reset_holds(self) -> None:
        """Forget peak holds and clips; a roll begins."""
        self._held = np.zeros_like(self._peak)
        self._clips = np.zeros(len(self._peak), dtype=np.int64)

    def feed(self, levels: NDArray[np.float32]) -> bool:
        """Take frames of shape (frames, channels); return whether there is something new to show."""
        size = np.abs(levels)
        peak = size.max(axis=0)
        np.maximum(self._peak, peak, out=self._peak)
        np.maximum(self._held, peak, out=self._held)
        if peak.max(initial=0.0) >= FULL_SCALE:
            self._clips += np.count_nonzero(size >= FULL_SCALE, axis=0)
        self._square += np.einsum("ij,ij->j", levels, levels, dtype=np.float64)
        self._have += len(levels)
        if self._have < self._stretch:
            return False
        self._shown = [*self._shown[-1:], (self._peak, self._square / self._have)]
        self._peak = np.zeros_like(self._peak)
        self._square = np.zeros_like(self._square)
        self._have = 0
        return True

    def read(self, first: int, last: int) -> Meters:
        """Return the meters of channels `first` up to `last`, excluded."""
        width = slice(first, last)
        shown = self._shown or [(self._peak, self._square)]
        peak = np.maximum.reduce([p for p, _ in shown])[width]
        mean = np.mean([s for _, s in shown], axis=0)[width]
        return Meters(
            peak=tuple(peak.tolist()),
            rms=tuple(np.sqrt(mean).tolist()),
            held=tuple(self._held[width].tolist()),
            clips=tuple(self._clips[width].tolist()),
        )
