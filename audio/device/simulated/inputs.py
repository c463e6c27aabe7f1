"""The interface's inputs: what each of them hears besides the sound, and what spoils it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from audio.device.simulated.faults import Fault, Faults
from audio.device.simulated.filters import Signal
from audio.device.simulated.lines import GROUND, MAINS, Lines, hum, whine
from audio.vocab.patching import AMP_HEARS, PatchName
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import Microphone, SimulatedDevice

CONVERTER_NOISE_DBFS = -118.0
"""RMS of the noise of an input without a microphone."""
NO_NOISE_DBFS = -150.0
"""A wiring whose noise is at or under this has no noise at all, at any input."""
LARGEST = 1.0 - 2.0**-23
"""Largest value of a 24-bit converter; the smallest is −1."""


class Inputs:
    """All inputs of the interface: noise, hum, crosstalk, and the faults of cables and knobs."""

    def __init__(self, device: SimulatedDevice, faults: Faults, *, rate: int) -> None:
        self._device = device
        self._faults = faults
        self._rate = rate
        quiet = device.noise_dbfs <= NO_NOISE_DBFS
        self._noise = 0.0 if quiet else ratio_from_db(device.noise_dbfs)
        self._hiss = 0.0 if quiet else ratio_from_db(CONVERTER_NOISE_DBFS)
        self._columns = [one.input - 1 for one in device.microphones]
        self._draws = [np.random.default_rng([device.seed, part]) for part in (1, 2)]
        mains, level = device.hum, device.crosstalk_db
        self._hum = (
            None
            if mains is None
            else hum(hz=mains.hz, level_dbfs=mains.level_dbfs, rate=rate, seed=device.seed)
        )
        self._crosstalk = None if level is None else ratio_from_db(level)
        self._lines = [
            (fault, _lines_of(fault, rate=rate, seed=device.seed))
            for fault in faults.of("hum", "ground loop", "whine")
        ]
        self._more_noise = [
            (fault, np.random.default_rng([device.seed, 4, number]))
            for number, fault in enumerate(faults.of("noise"))
        ]

    def hear(
        self,
        arrived: Sequence[Signal],
        straight: Signal,
        cables: Sequence[tuple[int, Signal]],
        patched: tuple[int, Signal] | None,
        *,
        patch: PatchName,
        frame: int,
    ) -> Signal:
        """Return a block of all inputs.

        Parameters
        ----------
        arrived
            What each microphone hears, in the wiring's order, shape (frames,) each.
        straight
            The send behind the converters, for the crosstalk.
        cables
            Input from 1 and signal of what comes by cable alone: witness, loop.
        patched
            The same of what is patched into an input, whose own cable is pulled for it; None without.
        patch
            Which cables are plugged.
        frame
            Input frame at which the block begins.

        Returns
        -------
        Signal
            Shape (frames, inputs), −1 to `LARGEST`.
        """
        heard = self._noise_of(straight.size)
        steady = None if self._hum is None else self._hum.take(frame, straight.size)
        for microphone, signal in zip(self._device.microphones, arrived, strict=True):
            sound = signal if steady is None else signal + steady
            sound = self._through_its_cable(sound, microphone, frame)
            if self._crosstalk is not None:
                sound = sound + self._crosstalk * straight
            heard[:, microphone.input - 1] += sound
        for number, signal in cables:
            heard[:, number - 1] += signal
        if patched is not None:
            heard[:, patched[0] - 1] = patched[1]
        self._leak(heard, straight, frame)
        self._spoil(heard, patch, frame)
        return np.clip(heard, -1.0, LARGEST, out=heard)

    def _noise_of(self, frames: int) -> Signal:
        """Return the noise of every input: even hiss of the converters, Gaussian of microphones."""
        if not self._noise:
            return np.zeros((frames, self._device.inputs))
        noise = self._draws[0].random((frames, self._device.inputs))
        noise -= 0.5
        noise *= self._hiss * math.sqrt(12.0)
        drawn = self._draws[1].standard_normal((frames, len(self._columns)))
        noise[:, self._columns] = self._noise * drawn
        return noise

    def _through_its_cable(self, sound: Signal, microphone: Microphone, frame: int) -> Signal:
        for fault, since in self._faults.lasting(
            "dead cable", "inverted microphone", "flat tops", frame=frame, frames=sound.size
        ):
            # A dead cable of no input is the send's, and was dead before the amp.
            here = fault.kind == "flat tops" and fault.words["input"] is None
            if here or fault.words["input"] == microphone.input:
                sound = np.append(sound[:since], _changed(sound[since:], fault))
        return sound

    def _leak(self, heard: Signal, straight: Signal, frame: int) -> None:
        """Add what a fault lets through of the send to inputs, wired or not; in place."""
        for fault, since in self._faults.lasting("crosstalk", frame=frame, frames=straight.size):
            leaked = ratio_from_db(fault.words["level_db"]) * straight[since:, None]
            heard[since:, self._columns_of(fault)] += leaked

    def _spoil(self, heard: Signal, patch: PatchName, frame: int) -> None:
        """Let the faults of the inputs have their way with a block."""
        frames = len(heard)
        self._add_hum_and_noise(heard, patch, frame)
        for fault, since in self._faults.lasting(
            "level", "clipping input", frame=frame, frames=frames
        ):
            if fault.words["input"] is not None:
                heard[since:, fault.words["input"] - 1] *= ratio_from_db(fault.words["gain_db"])
        for fault, since in self._faults.lasting("swapped inputs", frame=frame, frames=frames):
            one, other = (number - 1 for number in fault.words["inputs"])
            heard[since:, [one, other]] = heard[since:, [other, one]]

    def _add_hum_and_noise(self, heard: Signal, patch: PatchName, frame: int) -> None:
        frames = len(heard)
        for fault, lines in self._lines:
            since, share = fault.since(frame, frames), _share(fault, patch)
            if since < frames and share:
                sound = share * lines.take(frame, frames)[since:, None]
                heard[since:, self._columns_of(fault)] += sound
        for fault, draw in self._more_noise:
            columns, since = self._columns_of(fault), fault.since(frame, frames)
            if since < frames:
                drawn = draw.standard_normal((frames - since, len(columns)))
                heard[since:, columns] += ratio_from_db(fault.words["level_dbfs"]) * drawn

    def _columns_of(self, fault: Fault) -> list[int]:
        number = fault.words["input"]
        return self._columns if number is None else [number - 1]


def _lines_of(fault: Fault, *, rate: int, seed: int) -> Lines:
    words, level = fault.words, fault.words["level_dbfs"]
    if fault.kind == "whine":
        return whine(family_hz=words["family_hz"], level_dbfs=level, rate=rate, seed=seed)
    by = GROUND if fault.kind == "ground loop" else MAINS
    return hum(hz=words["hz"], level_dbfs=level, rate=rate, seed=seed, by=by)


def _share(fault: Fault, patch: PatchName) -> float:
    """Return how much of a hum or whine is there with those cables plugged, 0 to 1."""
    if fault.kind != "ground loop":
        return 1.0
    if patch == "lifted":
        return ratio_from_db(-fault.words["lift_cures_db"])
    return 1.0 if patch in AMP_HEARS else 0.0


def _changed(sound: Signal, fault: Fault) -> Signal:
    """Return what a microphone's own fault makes of its sound, shape (frames,) both."""
    match fault.kind:
        case "dead cable":
            return 0.0 * sound
        case "flat tops":
            ceiling = ratio_from_db(fault.words["ceiling_dbfs"])
            return np.clip(sound, -ceiling, ceiling)
        case _:
            return -sound
