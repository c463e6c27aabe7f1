"""The boxes on either side of the guitar: the reamp box, and the DI input that recorded the part."""

from __future__ import annotations

import numpy as np

from audio.device.simulated.faults import Faults
from audio.device.simulated.filters import Loss, Signal
from audio.device.simulated.inputs import CONVERTER_NOISE_DBFS
from audio.device.simulated.paths import Path, Paths
from audio.vocab.patching import AMP_HEARS, PatchName
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import DiBox, ReampBox

CHAIN_HEARS: frozenset[PatchName] = AMP_HEARS | {"unplugged"}
"""Patches in which what is sent reaches the first pedal, and the witness on the way there."""
_ONE_LEG = 0.5
"""A balanced signal with one leg dead: half the voltage between its legs, −6.02 dB."""


class Reamp:
    """The reamp box of a wiring, as its trim stands."""

    def __init__(self, box: ReampBox, faults: Faults, *, rate: int) -> None:
        self._faults = faults
        self._gain = ratio_from_db(box.gain_db)
        self._gain *= (_ONE_LEG if box.one_leg_dead else 1.0) * (-1.0 if box.inverted else 1.0)
        self._loss = None if box.highs_hz is None else Loss(hz=box.highs_hz, rate=rate)

    def process(self, send: Signal, frame: int) -> Signal:
        """Return what leaves the box for a block that is sent from `frame` on, shape (frames,) both."""
        out = send if self._gain == 1.0 else self._gain * send
        for fault, since in self._faults.lasting("send trim", frame=frame, frames=send.size):
            turned = ratio_from_db(fault.words["gain_db"]) * out[since:]
            out = np.append(out[:since], turned)
        return out if self._loss is None else self._loss.process(out)


class DiInput:
    """The DI input, and the cable that may be in it."""

    def __init__(self, box: DiBox, *, converter_frames: float, seed: int, quiet: bool) -> None:
        self.input = box.input
        self._path = Paths(
            [Path(converter_frames, np.ones(1))], spent=0, converter_frames=converter_frames
        )
        self._gain = ratio_from_db(box.gain_db) * (-1.0 if box.inverted else 1.0)
        self._draw = np.random.default_rng([seed, 5])
        self._noise = 0.0 if quiet else ratio_from_db(box.noise_dbfs)
        self._hiss = 0.0 if quiet else ratio_from_db(CONVERTER_NOISE_DBFS)
        self._used = False

    def hear(self, patch: PatchName, *, send: Signal, boxed: Signal) -> Signal | None:
        """Return what stands at the input for a block, None while no cable of the patch is in it.

        Parameters
        ----------
        patch
            What is plugged.
        send
            What leaves the send, shape (frames,).
        boxed
            What the reamp box makes of it, shape (frames,).

        Returns
        -------
        Signal | None
            Shape (frames,), noise included.
        """
        match patch:
            case "box to DI input":
                return self._late(self._gain * boxed) + self._noise_of(self._noise, send.size)
            case "send to input":
                return self._late(send) + self._noise_of(self._hiss, send.size)
            case _:
                if self._used:  # what is on its way must not be there at the next cable
                    self._late(np.zeros(send.size))
                return None

    def _late(self, signal: Signal) -> Signal:
        self._used = True
        return self._path.process(signal)[0]

    def _noise_of(self, level: float, frames: int) -> Signal:
        return np.asarray(level * self._draw.standard_normal(frames), dtype=np.float64)
