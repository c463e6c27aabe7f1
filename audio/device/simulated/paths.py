"""Paths from one signal to inputs, each exactly as late as it is said to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audio.device.simulated.filters import (
    SINC_LATENCY,
    Convolver,
    Delay,
    Signal,
    fractional_kernel,
    split_delay,
)
from audio.vocab.errors import UseError


@dataclass(frozen=True)
class Path:
    """One way to an input."""

    delay_frames: float
    """From the output to the first tap of the response."""
    response: Signal
    """Impulse response, gain and polarity included; shape (taps,)."""


class Paths:
    """Several paths of one signal."""

    def __init__(self, paths: Sequence[Path], *, spent: int, converter_frames: float) -> None:
        """Prepare delays and kernels.

        Parameters
        ----------
        paths
            The paths; a whole delay with a single tap is passed on without arithmetic but its gain.
        spent
            Frames the signal is late by already, taken out of each delay.
        converter_frames
            Named in the message when too little delay is left.

        Raises
        ------
        UseError
            When a delay is shorter than what the arithmetic needs.
        """
        kernels, self._delays, self._gains = [], [], []
        for path in paths:
            whole, fraction = split_delay(path.delay_frames)
            needed = spent + (SINC_LATENCY if fraction else 0)
            if whole < needed:
                raise UseError(
                    f"device.converter_frames is {converter_frames:g}, too short for what the room has"
                    f" to do in that time; write {converter_frames + needed - whole:g} or more."
                )
            kernel = (
                np.convolve(path.response, fractional_kernel(fraction))
                if fraction
                else path.response
            )
            self._delays.append(Delay(whole - needed))
            self._gains.append(float(kernel[0]) if kernel.size == 1 else None)
            kernels.append(kernel)
        self._convolver = _together([k for k in kernels if k.size > 1])

    def process(self, signal: Signal) -> list[Signal]:
        """Return what arrives on each path, shape (frames,) each."""
        if self._convolver is not None:
            shaped = iter(self._convolver.process(signal[None, :]))
        return [
            delay.process(next(shaped) if gain is None else signal * gain)
            for delay, gain in zip(self._delays, self._gains, strict=True)
        ]


def _together(kernels: list[Signal]) -> Convolver | None:
    if not kernels:
        return None
    longest = max(kernel.size for kernel in kernels)
    rows = [np.append(kernel, np.zeros(longest - kernel.size)) for kernel in kernels]
    return Convolver(np.stack(rows)[:, None, :])
