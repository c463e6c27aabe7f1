"""In rooms drawn at random, every input hears what the truth says of it, whatever is plugged."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest
from simulated_wirings import Signal, plain, played, rms_db, room

from audio.device.simulated.room import Room
from audio.vocab.patching import PatchName
from audio.vocab.wiring import Amp, DiBox, ReampBox

WITNESS, FREE = 5, 7
AT = 600
BELL: Signal = 0.1 * np.exp(-(((np.arange(4096) - AT) / 12.0) ** 2))
"""A smooth pulse: its centre of gravity tells its place to a fraction of a frame."""


def drawn(seed: int) -> Room:
    """A room whose boxes, distances and polarities are drawn; some with a cable in the wrong input."""
    draw = np.random.default_rng(seed)

    def tossed() -> bool:
        return bool(draw.integers(2))

    near = plain(2, distance_cm=draw.uniform(0.0, 60.0), inverted=tossed())
    box = ReampBox(gain_db=draw.uniform(-10.0, 8.0), one_leg_dead=tossed(), inverted=tossed())
    di = DiBox(
        input=int(draw.choice([1, 2, 4])), gain_db=draw.uniform(-6.0, 6.0), inverted=tossed()
    )
    wrong = {"kind": "swapped inputs", "inputs": [2, FREE]}
    return room(
        rate=int(draw.choice([44_100, 48_000, 96_000])),
        witness=WITNESS,
        noise_dbfs=-200.0,
        amp=Amp(clean=True),
        converter_frames=draw.uniform(180.0, 300.0),
        microphones=(near, plain(3)),
        reamp=box,
        di_box=di,
        faults=(wrong,) if tossed() else (),
    )


@pytest.mark.parametrize("patch", get_args(PatchName))
@pytest.mark.parametrize("seed", range(5))
def test_what_an_input_hears_is_what_the_truth_says(seed: int, patch: PatchName) -> None:
    one = drawn(seed)
    one.patch(patch)
    heard = played(one, BELL)
    for number in (1, 2, 3, 4, WITNESS, FREE):
        signal, truth = heard[:, number - 1], one.truth(number)
        assert truth.connected is bool(np.max(np.abs(signal)) > 1e-9)
        if truth.connected:
            centre = float(np.arange(signal.size) @ signal / signal.sum())
            assert centre - AT == pytest.approx(truth.delay_frames, abs=0.01)
            assert truth.inverted is bool(signal.sum() < 0.0)


@pytest.mark.parametrize("seed", range(5))
def test_a_straight_cable_brings_the_send_as_loud_as_it_left(seed: int) -> None:
    one = drawn(seed)
    one.patch("send to input")
    loudest = max(rms_db(column) for column in played(one, BELL).T)
    assert loudest == pytest.approx(rms_db(BELL), abs=1e-3)
