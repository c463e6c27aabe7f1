"""Rooms in which one thing may be wrong before a pass, and which findings name it.

A kind is one entry of `KINDS`; what a step says is turned into a kind's name by its codes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from msgspec.structs import replace

from audio.device.simulated.cabinet import CABINETS
from audio.vocab.setup import Asked, AskPolarity, AskSilence, AskWire, SetupRecord
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring

RATE, SEND = 48_000, 3
Draw = np.random.Generator

ASKED: tuple[Asked, ...] = (AskWire(seconds=0.0), AskSilence(seconds=2.0), AskPolarity())
"""The steps every room goes through, in this order."""


@dataclass(frozen=True)
class Kind:
    """One thing that may be wrong: how it is planted, and how it is named."""

    plant: Callable[[Draw, Wiring], Wiring]
    codes: frozenset[str]
    """Findings, of whichever step, any of which names it."""
    word: str = ""
    """What the summary of that step must hold as well."""


def room(seed: int) -> Wiring:
    """Return a room in which nothing is wrong: two or three microphones, every second with a witness."""
    draw = np.random.default_rng([seed, 1])
    more = int(draw.integers(1, 3))
    microphones = tuple(_microphone(draw, place) for place in range(1 + more))
    cable = len(microphones) + 2
    device = SimulatedDevice(
        pace="free",
        inputs=cable + 2,
        outputs=4,
        seed=seed,
        converter_frames=float(draw.uniform(150, 400)),
        amp=Amp(drive_db=float(draw.uniform(0, 24)), asymmetry=float(draw.uniform(0, 0.6))),
        microphones=microphones,
        noise_dbfs=float(draw.uniform(-92, -76)),
    )
    return Wiring(
        name=f"room {seed}",
        device=device,
        sample_rate=RATE,
        send_output=SEND,
        returns=tuple(Return(name=f"mic {m.input}", input=m.input) for m in microphones),
        reference=f"mic {microphones[0].input}",
        witness_input=cable if seed % 2 else None,
        tail_s=1.0,
    )


def _microphone(draw: Draw, place: int) -> Microphone:
    return Microphone(
        input=2 + place,
        distance_cm=float(draw.uniform(2, 8) if place == 0 else draw.uniform(15, 150)),
        cabinet=str(draw.choice(sorted(CABINETS))),
        gain_db=float(draw.uniform(-12, -2)),
    )


# ---------------------------------------------------------------- what may be wrong


def _device(wiring: Wiring) -> SimulatedDevice:
    assert isinstance(wiring.device, SimulatedDevice)
    return wiring.device


def _with(wiring: Wiring, **fault: Any) -> Wiring:
    return replace(wiring, device=replace(_device(wiring), faults=(fault,)))


def _any_return(draw: Draw, wiring: Wiring) -> int:
    return int(draw.choice([one.input for one in wiring.returns]))


def _hum(hz: float) -> Callable[[Draw, Wiring], Wiring]:
    def plant(draw: Draw, wiring: Wiring) -> Wiring:
        level = _device(wiring).noise_dbfs + draw.uniform(0, 25)
        where = {} if draw.random() < 0.5 else {"input": _any_return(draw, wiring)}
        return _with(wiring, kind="hum", hz=hz, level_dbfs=float(level), **where)

    return plant


def _leak(draw: Draw, wiring: Wiring) -> Wiring:
    """Let the send into a return beside the amp, or into an input nobody wired."""
    free = _device(wiring).inputs
    if draw.random() < 0.5:
        level = float(draw.uniform(-50, -10))
        return _with(wiring, kind="crosstalk", input=free, level_db=level)
    level, where = float(draw.uniform(-32, -20)), _any_return(draw, wiring)
    return _with(wiring, kind="crosstalk", input=where, level_db=level)


def _wrong_input(draw: Draw, wiring: Wiring) -> Wiring:
    free = int(draw.choice([1, _device(wiring).inputs]))
    return _with(wiring, kind="swapped inputs", inputs=[_any_return(draw, wiring), free])


def _dead(draw: Draw, wiring: Wiring) -> Wiring:
    return _with(wiring, kind="dead cable", input=_any_return(draw, wiring))


def _inverted(draw: Draw, wiring: Wiring) -> Wiring:
    return _with(wiring, kind="inverted microphone", input=_any_return(draw, wiring))


KINDS: dict[str, Kind] = {
    "nothing wrong": Kind(lambda _, wiring: wiring, frozenset()),
    "hum at 50": Kind(_hum(50.0), frozenset({"hum"}), word="50 Hz"),
    "hum at 60": Kind(_hum(60.0), frozenset({"hum"}), word="60 Hz"),
    "leak": Kind(
        _leak,
        frozenset({"send-leaks", "send-astray", "only-leak", "fed-back", "monitor-reaches-send"}),
    ),
    "wrong input": Kind(_wrong_input, frozenset({"wrong-input"})),
    "dead microphone": Kind(_dead, frozenset({"return-silent", "input-dead"})),
    "inverted microphone": Kind(_inverted, frozenset({"pair-inverted"})),
}


def planted(seed: int, kind: str) -> Wiring:
    """Return the room of a seed with a kind planted in it."""
    return KINDS[kind].plant(np.random.default_rng([seed, 2]), room(seed))


def named(records: tuple[SetupRecord, ...]) -> str:
    """Return the kind that the steps' findings name, several joined; ``something else`` for other words.

    A microphone that the wire step calls silent or misplaced says nothing of its polarity.
    """
    names = [
        name
        for name, kind in KINDS.items()
        for record in records
        if kind.word in record.outcome.summary
        and kind.codes & {f.code for f in record.outcome.findings}
    ]
    if names:
        return " + ".join(dict.fromkeys(names))
    odd = any(record.verdict != "good" for record in records)
    return "something else" if odd else "nothing wrong"
