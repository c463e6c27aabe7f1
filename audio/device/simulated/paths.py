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

_HARMONICS_DB = (0.0, -12.0, -6.0, -18.0, -10.0, -22.0, -14.0, -26.0, -18.0, -30.0)
"""Mains frequency and its multiples, the odd ones stronger: rectifiers load both half waves alike
(common practice, no source)."""


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


class Hum:
    """Mains hum: a frequency and nine multiples, counted in frames."""

    def __init__(self, *, hz: float, level_dbfs: float, rate: int, seed: int) -> None:
        """Draw the phases from `seed`; `level_dbfs` is the RMS of all lines together."""
        heights = 10.0 ** (np.array(_HARMONICS_DB) / 20.0)
        heights *= np.sqrt(2.0 / np.sum(heights**2)) * 10.0 ** (level_dbfs / 20.0)
        phases = np.random.default_rng([seed, 50]).uniform(0.0, 2.0 * np.pi, heights.size)
        self._lines = (heights * np.exp(1j * phases)).tolist()
        self._turns = hz / rate

    def take(self, frame: int, frames: int) -> Signal:
        """Return the hum of `frames` frames from `frame` on."""
        at = np.arange(frame, frame + frames)
        turn = np.exp(2j * np.pi * ((at * self._turns) % 1.0))
        total = np.zeros(frames, dtype=np.complex128)
        for line in reversed(self._lines):
            total = (total + line) * turn
        return total.imag


def _together(kernels: list[Signal]) -> Convolver | None:
    if not kernels:
        return None
    longest = max(kernel.size for kernel in kernels)
    rows = [np.append(kernel, np.zeros(longest - kernel.size)) for kernel in kernels]
    return Convolver(np.stack(rows)[:, None, :])
