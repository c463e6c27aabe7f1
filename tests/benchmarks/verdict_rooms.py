"""Rooms in which the verdict is judged: amp, microphones, pedals and riff all follow from one number.

Riffs and rooms have seeds from 14,000 on, the cabinets are the simulated room's named ones: on none of
them was a constant of the program tuned.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from material import RATE, Floats, palm_muted, slow_chords, write_di
from playing import phrase

from audio.device.simulated.cabinet import CABINETS
from audio.device.simulated.faults import Sound
from audio.vocab.wiring import Amp, Hum, Loop, Microphone, Return, SimulatedDevice, Wiring

FIRST_SEED = 14_000
SEND, LOOP_OUTPUT = 3, 4
PROOFS = ("none", "loop", "witness")

Draw = np.random.Generator
Pedals = tuple[dict[str, Any], ...]
Proof = Literal["none", "loop", "witness"]


def draw_for(number: int, what: str) -> Draw:
    """Return the random numbers of one thing in one room, whatever else is drawn there."""
    return np.random.default_rng([FIRST_SEED + number, zlib.crc32(what.encode())])


# ---------------------------------------------------------------- chains


def _pedal(kind: str, **words: float) -> dict[str, Any]:
    return {"kind": kind, **{name: round(float(value), 3) for name, value in words.items()}}


def _drive(d: Draw) -> dict[str, Any]:
    return _pedal("drive", drive_db=d.uniform(6, 40), tone_hz=d.uniform(2500, 7000))


def _gate(d: Draw) -> dict[str, Any]:
    return _pedal(
        "gate",
        threshold_db=d.uniform(-55, -35),
        attack_ms=d.uniform(0.2, 6.0),
        release_ms=d.uniform(40, 150),
    )


def _compressor(d: Draw) -> dict[str, Any]:
    return _pedal("compressor", ratio=d.uniform(2, 8), makeup_db=d.uniform(0, 8))


def _chorus(d: Draw) -> dict[str, Any]:
    return _pedal("chorus", hz=d.uniform(0.3, 2.0), mix=d.uniform(0.3, 0.6))


def _tremolo(d: Draw) -> dict[str, Any]:
    return _pedal("tremolo", hz=d.uniform(2, 7), depth=d.uniform(0.4, 0.9))


def _vibrato(d: Draw) -> dict[str, Any]:
    return _pedal("vibrato", hz=d.uniform(3, 6), depth_ms=d.uniform(0.3, 0.8))


def _echo(d: Draw) -> dict[str, Any]:
    echo = {"ms": d.uniform(120, 500), "feedback": d.uniform(0.1, 0.5), "mix": d.uniform(0.2, 0.5)}
    return _pedal("echo", **echo)


def _reverb(d: Draw) -> dict[str, Any]:
    return _pedal("reverb", decay_s=d.uniform(0.6, 2.5), mix=d.uniform(0.15, 0.4))


def _digital(d: Draw) -> dict[str, Any]:
    return _pedal("digital", ms=d.uniform(0.9, 6.0))


def _wah(d: Draw) -> dict[str, Any]:
    return _pedal("wah", hz=d.uniform(500, 1800), q=d.uniform(2, 5))


def _volume(d: Draw) -> dict[str, Any]:
    return _pedal("volume", open=d.uniform(0.5, 1.0))


def _buffer(_: Draw) -> dict[str, Any]:
    return _pedal("inverting buffer")


CHAINS: dict[str, tuple[Callable[[Draw], dict[str, Any]], ...]] = {
    "bare path": (),
    "fuzz": (_drive,),
    "gate into fuzz": (_gate, _drive),
    "compressor and chorus": (_compressor, _chorus),
    "tremolo": (_tremolo,),
    "vibrato": (_vibrato,),
    "fuzz into echo": (_drive, _echo),
    "reverb": (_reverb,),
    "digital": (_digital, _drive),
    "wah into fuzz": (_wah, _drive),
    "buffer and volume": (_buffer, _volume),
    "compressor, echo, reverb": (_compressor, _echo, _reverb),
    "drive into chorus": (_drive, _chorus),
    "digital, gate, tremolo": (_digital, _gate, _tremolo),
}
"""Every pedal of the room is in one of them, but the tuner, which mutes."""

LONG: dict[str, tuple[Callable[[Draw], dict[str, Any]], ...]] = {
    "long reverb": (lambda d: _pedal("reverb", decay_s=d.uniform(8, 18), mix=d.uniform(0.4, 0.8)),),
    "long echo": (
        lambda d: _pedal(
            "echo", ms=d.uniform(200, 500), feedback=d.uniform(0.85, 0.95), mix=d.uniform(0.4, 0.8)
        ),
    ),
}
"""Chains that ring for longer than the tail may be."""

STEADY = ("bare path", "fuzz", "buffer and volume", "digital", "wah into fuzz")
"""Chains whose clicks stay where they are: what is lost in them, the clicks can tell."""

WITH_POLARITY = STEADY[:-1]
"""Those that leave a polarity to know: a wah does not."""


def pedals(draw: Draw, chain: str) -> Pedals:
    """Return the pedals of a kind of chain, their knobs drawn."""
    return tuple(make(draw) for make in (CHAINS | LONG)[chain])


# ---------------------------------------------------------------- rooms


@dataclass(frozen=True)
class Riff:
    """A DI, and when playing in it has begun as the room hears it."""

    name: str
    samples: Floats
    begins_s: float

    @property
    def seconds(self) -> float:
        """Length."""
        return len(self.samples) / RATE

    def sounds_at(self, at_s: float) -> bool:
        """Return whether all of what is on its way then sounds, within 40 dB of the loudest 5 ms."""
        hop = RATE // 200
        blocks = self.samples[: len(self.samples) // hop * hop].reshape(-1, hop)
        power, at = np.mean(blocks**2, axis=1), round(at_s * 200)
        return bool(np.min(power[max(0, at - 5) : at + 4]) > 1e-4 * np.max(power))

    def last_with(self, loud_s: float) -> float:
        """Return the last second after which so much playing within 20 dB of the loudest 50 ms is left."""
        hop = RATE // 20
        blocks = self.samples[: len(self.samples) // hop * hop].reshape(-1, hop)
        power = np.mean(blocks**2, axis=1)
        loud = np.flatnonzero(power > 0.01 * power.max())
        return float(loud[max(0, loud.size - math.ceil(loud_s * 20))]) / 20.0


@dataclass(frozen=True)
class Studio:
    """One room: its wiring without chains and faults, its riffs, and what is known of it."""

    number: int
    wiring: Wiring
    riffs: tuple[Riff, ...]
    proof: Proof

    @property
    def inputs(self) -> tuple[int, ...]:
        """Inputs of the returns, the reference first."""
        return tuple(one.input for one in self.wiring.returns)

    @property
    def free_inputs(self) -> tuple[int, ...]:
        """Inputs with no cable in them."""
        return (1, self.device.inputs)

    @property
    def device(self) -> SimulatedDevice:
        """The simulated interface."""
        device = self.wiring.device
        assert isinstance(device, SimulatedDevice)
        return device


def studio(number: int) -> Studio:
    """Return the room of a number; every third has a loop, every third a witness."""
    draw, proof = draw_for(number, "room"), PROOFS[number % 3]
    microphones = tuple(_microphone(draw, place) for place in range(int(draw.integers(1, 5))))
    noise = draw.uniform(-92, -72)
    cable = len(microphones) + 2
    device = SimulatedDevice(
        pace="free",
        inputs=cable + 1,
        outputs=4,
        seed=FIRST_SEED + number,
        converter_frames=draw.uniform(150, 400),
        amp=Amp(drive_db=draw.uniform(0, 40), asymmetry=draw.uniform(0, 1)),
        microphones=microphones,
        noise_dbfs=noise,
        hum=_hum(draw, noise),
    )
    wiring = Wiring(
        name=f"room {number}",
        device=device,
        sample_rate=RATE,
        send_output=SEND,
        returns=tuple(Return(name=f"mic {m.input}", input=m.input) for m in microphones),
        reference=f"mic {microphones[0].input}",
        witness_input=cable if proof == "witness" else None,
        loop=Loop(output=LOOP_OUTPUT, input=cable) if proof == "loop" else None,
    )
    return Studio(number=number, wiring=wiring, riffs=_riffs(draw, number), proof=proof)


def _microphone(draw: Draw, place: int) -> Microphone:
    return Microphone(
        input=2 + place,
        distance_cm=draw.uniform(2, 10) if place == 0 else draw.uniform(10, 250),
        cabinet=str(draw.choice(sorted(CABINETS))),
        gain_db=draw.uniform(-14, -2),
        inverted=bool(draw.random() < 0.25),
    )


def _hum(draw: Draw, noise_dbfs: float) -> Hum | None:
    level, hz = noise_dbfs + draw.uniform(-6, 6), draw.choice((50.0, 60.0))
    return Hum(hz=float(hz), level_dbfs=level) if draw.random() < 1 / 3 else None


def _riffs(draw: Draw, number: int) -> tuple[Riff, ...]:
    """Return a phrase of notes, on which faults are planted, and one riff of another kind."""
    seed = FIRST_SEED + number
    first = _riff("riff", phrase(rate=RATE, seconds=draw.uniform(6, 7), seed=seed))
    seconds = draw.uniform(6, 8)
    other = palm_muted(seconds=seconds, seed=seed) if number % 2 else slow_chords(seconds=seconds)
    return first, _riff("other", other)


def _riff(name: str, samples: Floats) -> Riff:
    loud = samples * (10.0 ** (-6.0 / 20.0) / np.max(np.abs(samples)))
    return Riff(name, samples, max(_begins_s(loud, late) for late in range(0, RATE // 20, 240)))


def _begins_s(loud: Floats, late: int) -> float:
    """Return when the room hears playing begin that comes so many frames after a hop of its own.

    Infinite where it never does: what waits for playing would never be planted.
    """
    heard = Sound(rate=RATE).hear(np.concatenate((np.zeros(late), loud)))
    return math.inf if heard is None else (heard[0] - late) / RATE


def write_riff(folder: Path, riff: Riff) -> Path:
    """Write a riff as a DI of its name."""
    return write_di(folder / f"{riff.name}.wav", riff.samples)
