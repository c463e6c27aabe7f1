"""The demo's original: a part through the amp as it was first played, before its DI was edited.

The edit moved notes onto the beat and changed nothing else, so the take is the part with the timing
of a hand. It goes through the simulated room's own pedals, amp and close microphone; the microphone was
recorded beside the DI, so only the air between speaker and microphone lies between the two.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
from numpy.typing import NDArray

from audio.device.simulated.room import Room
from audio.vocab.wiring import SimulatedDevice, Wiring
from demo.make_dis import TAKES, Take, make_di

PART = "rhythm-left"
CHAIN = "crunch"
LOOSE_S = (-0.011, 0.017)
"""How far an eighth was ahead of the beat or behind it."""
SEED = 61


def first_take() -> Take:
    """Return the part as it was played before the edit."""
    take = TAKES[PART]
    dice = Random(SEED)  # noqa: S311 - its sequence is the same everywhere
    beats = sorted({note.beat for note in take.notes})
    low, high = LOOSE_S
    late_s = {beat: low + (high - low) * dice.random() for beat in beats}
    notes = tuple(replace(n, late_s=n.late_s + late_s[n.beat]) for n in take.notes)
    return replace(take, notes=notes)


def make_original(wiring: Wiring) -> NDArray[np.int16]:
    """Return the original as 16-bit codes.

    Parameters
    ----------
    wiring
        The demo's; its first return heard the amp.

    Returns
    -------
    NDArray
        Shape (frames,), as long as the DI.
    """
    device = wiring.device
    if not isinstance(device, SimulatedDevice):
        raise TypeError("the demo plays in the simulated room")
    di = make_di(first_take()) / 2.0**23
    room = Room(wiring)
    room.plug(CHAIN)
    late = round(room.block_frames + device.converter_frames)
    sent = np.zeros((len(di) + late, device.outputs))
    sent[: len(di), wiring.send_output - 1] = di
    heard = room.process(sent)[late:, wiring.reference_return.input - 1]
    return np.round(heard * 2.0**15).clip(-(2**15), 2**15 - 1).astype(np.int16)
