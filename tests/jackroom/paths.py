"""The arithmetic of the room, independent of everything the program measures with."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from audio.vocab.patching import PatchName
from jackroom.spec import Hum, Path, RoomSpec

HALF = 32
"""Frames on either side of the centre of a fractional delay's sinc."""

CABINET_S = 0.02

MAINS = (1.0, 0.3, 0.5, 0.15, 0.3)
"""Heights of the fundamental and its multiples in hum: common practice, no source."""

Floats = NDArray[np.float64]


def fractional_delay(frames: float) -> Floats:
    """Return the taps of a delay of HALF − 1 + `frames` (0 ≤ `frames` < 1), Kaiser-windowed sinc.

    Common practice (Laakso et al., "Splitting the unit delay", IEEE SP Magazine, 1996); beta 10 from
    memory, chosen so that the error stays under −90 dB to 0.8 of the Nyquist frequency.
    """
    offset = np.arange(2 * HALF) - (HALF - 1) - frames
    window = np.i0(10.0 * np.sqrt(np.clip(1.0 - (offset / HALF) ** 2, 0.0, 1.0))) / np.i0(10.0)
    return np.sinc(offset) * window


def cabinet(rate: int) -> Floats:
    """Return a loudspeaker's impulse response: high-pass, box resonance, presence, steep low-pass.

    Minimum phase (every section is, and a sum of 1 and resonances has no zero in the right half plane),
    so its energy begins at its first tap. Corner frequencies of a closed-back guitar
    cabinet: common practice, no source.
    """
    from scipy import signal  # noqa: PLC0415 - only a room with a cabinet pays for it

    impulse = np.zeros(round(CABINET_S * rate))
    impulse[0] = 1.0
    box = signal.iirpeak(110.0, 2.0, fs=rate)
    presence = signal.iirpeak(2500.0, 1.5, fs=rate)
    band = signal.butter(2, [75.0, 4800.0], "bandpass", fs=rate, output="sos")
    coloured = (
        impulse + 0.6 * signal.lfilter(*box, impulse) + 0.9 * signal.lfilter(*presence, impulse)
    )
    response: Floats = signal.sosfilt(band, coloured)
    return response / float(np.max(np.abs(np.fft.rfft(response))))


class Line:
    """The recent past of one output, long enough for the longest path that leaves from it."""

    def __init__(self, *, past: int) -> None:
        self._past = past
        self._frames = np.zeros(past)

    def push(self, block: NDArray[np.float32]) -> None:
        """Append a block; frames older than `past` before it are forgotten."""
        self._frames = np.concatenate((self._frames[len(self._frames) - self._past :], block))

    def read(self, *, lag: int, frames: int) -> Floats:
        """Return the last `frames`, as they were `lag` frames earlier."""
        end = len(self._frames) - lag
        return self._frames[end - frames : end]


class Way:
    """One `Path` at work."""

    def __init__(self, path: Path, *, rate: int, seed: int) -> None:
        self.path = path
        self.gain = path.gain
        self._noise = np.random.default_rng(seed)
        self._taps = self._design(rate)
        self._spectra: dict[int, NDArray[np.complex128]] = {}
        whole = math.floor(path.delay_frames)
        fractional = not float(path.delay_frames).is_integer()
        if fractional and whole < HALF:
            message = f"a fractional delay needs {HALF} frames or more, this is {path.delay_frames}"
            raise ValueError(message)
        self._lag = whole - (HALF - 1) if fractional else whole
        self.past = self._lag + len(self._taps)

    def _design(self, rate: int) -> Floats:
        fraction = self.path.delay_frames % 1.0
        taps = fractional_delay(fraction) if fraction else np.ones(1)
        return np.convolve(taps, cabinet(rate)) if self.path.cabinet else taps

    def through(self, line: Line, frames: int) -> Floats:
        """Return what arrives for the newest `frames` of the line."""
        dry = line.read(lag=self._lag, frames=frames + len(self._taps) - 1)
        if self.path.drive:
            dry = np.tanh(self.path.drive * dry + 0.2) - math.tanh(0.2)
        wet = (-self.gain if self.path.inverted else self.gain) * self._filter(dry, frames)
        if self.path.noise_rms:
            wet = wet + self.path.noise_rms * self._noise.standard_normal(frames)
        return wet

    def _filter(self, dry: Floats, frames: int) -> Floats:
        if len(self._taps) == 1:
            return dry
        size = 1 << (len(dry) - 1).bit_length()
        if size not in self._spectra:
            self._spectra[size] = np.fft.rfft(self._taps, size)
        return np.fft.irfft(np.fft.rfft(dry, size) * self._spectra[size], size)[
            len(dry) - frames : len(dry)
        ]


class Mains:
    """One `Hum` at work."""

    def __init__(self, hum: Hum, *, rate: int) -> None:
        self.hum = hum
        self._heights = np.array(MAINS) * (hum.rms / math.sqrt(0.5 * np.sum(np.square(MAINS))))
        self._turns = np.arange(1, len(MAINS) + 1) * (hum.hz / rate)

    def take(self, frame: int, frames: int) -> Floats:
        """Return what hums in `frames` frames from `frame` on."""
        at = np.arange(frame, frame + frames)
        lines: Floats = self._heights @ np.sin(2.0 * np.pi * (np.outer(self._turns, at) % 1.0))
        return lines


class Paths:
    """Every path of a room; called once a period."""

    def __init__(self, spec: RoomSpec, *, rate: int) -> None:
        self._ways = [Way(p, rate=rate, seed=spec.seed + i) for i, p in enumerate(spec.paths)]
        self._mains = [Mains(hum, rate=rate) for hum in spec.hums]
        self._patch: PatchName = "amp"
        self._frame = 0
        leaving = {p.output for p in spec.paths}
        self._lines = {
            out: Line(past=max(w.past for w in self._ways if w.path.output == out))
            for out in leaving
        }

    def patch(self, patch: PatchName) -> None:
        """Plug cables as `patch` says, from the next period on; at first all is as in ``amp``."""
        self._patch = patch

    def turn(self, number: int, gain: float) -> None:
        """Give the path of that number (from 1, in the spec's order) another gain."""
        self._ways[number - 1].gain = gain

    def run(self, sent: list[NDArray[np.float32]], returned: list[NDArray[np.float32]]) -> None:
        """Fill `returned` (one array per input) from `sent` (one per output), all of one length."""
        for output, line in self._lines.items():
            line.push(sent[output - 1])
        for array in returned:
            array.fill(0.0)
        frames = len(returned[0])
        for way in self._ways:
            if self._is_there(way.path):
                arrived = way.through(self._lines[way.path.output], frames)
                returned[way.path.input - 1] += arrived.astype(np.float32)
        for mains in self._mains:
            if self._is_there(mains.hum):
                hums = mains.take(self._frame, frames)
                returned[mains.hum.input - 1] += hums.astype(np.float32)
        self._frame += frames

    def _is_there(self, part: Path | Hum) -> bool:
        return not part.patches or self._patch in part.patches
