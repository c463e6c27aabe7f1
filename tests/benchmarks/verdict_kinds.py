"""What is planted, at its minimum size or more, and what must be said of it.

The sizes begin where `audio.verdict.thresholds` says that a fault must be found.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from material import PEAK_DBFS
from verdict_rooms import CHAINS, FREE_INPUTS, LONG, STEADY, Draw, Pedals, Studio, draw_for, pedals

from audio.vocab.findings import Verdict

Faults = tuple[dict[str, Any], ...]
Peaks = Mapping[int, float]
"""Peak of each input in the take before, dBFS."""

LEAST_FRAMES = 1
LEAST_UP_DB = 10.0
LEAST_LEVEL_DB = 6.0
LEAST_CLIPPED_RUNS = 10
LEAST_LOUD_S = 2.5
"""A signal that stops leaves so much of the riff, loud or not."""
LEAST_SEND_CLIP_DB = 4.0
SHORT_TAIL_S = 2.5
"""Longest tail in the rooms with faults."""


@dataclass(frozen=True)
class Kind:
    """A kind of fault: how it is planted and by which words it is found."""

    codes: frozenset[str]
    """One of them must be named."""
    least: Verdict
    """What it must weigh at least."""
    plant: Callable[[Draw, Studio, Peaks], Faults]
    chains: tuple[str, ...] = STEADY
    sibling: bool = False
    """Whether a good take of the same chain comes first."""
    trim_db: tuple[float, float] | None = None
    """Between which the DI's trim is drawn, where that is the fault."""


@dataclass(frozen=True)
class Planted:
    """One fault in one room."""

    kind: str
    chain: str
    """Name of the chain it belongs to, its own."""
    pedals: Pedals
    trim_db: float | None

    @property
    def with_proof(self) -> bool:
        """Whether it is told apart by the room's loop or witness."""
        return self.kind in _FRAMES

    def faults(self, room: Studio, peaks: Peaks) -> Faults:
        """Return the fault's words, tied to the chain."""
        made = KINDS[self.kind].plant(draw_for(room.number, f"{self.chain} fault"), room, peaks)
        return tuple({**one, "chain": self.chain} for one in made)


def planted(room: Studio, kind: str, count: int = 1) -> list[Planted]:
    """Return what of a kind is planted in a room, each with a chain of its own."""
    found = []
    for number in range(count):
        name = kind if count == 1 else f"{kind} {number + 1}"
        draw, what = draw_for(room.number, f"{name} chain"), KINDS[kind]
        base = str(draw.choice(what.chains))
        trim = None if what.trim_db is None else round(float(draw.uniform(*what.trim_db)), 2)
        found.append(Planted(kind, name, pedals(draw, base), trim))
    return found


# ---------------------------------------------------------------- how each is planted


def _moment(draw: Draw, room: Studio, *, left_s: float = 1.0) -> dict[str, float]:
    """Return a moment within the riff, some of it left before and after."""
    riff = room.riffs[0]
    at_s = float(draw.uniform(1.0, riff.seconds - left_s))
    return {"after_sound_s": round(max(0.3, at_s - riff.begins_s), 4)}


def _one(draw: Draw, room: Studio) -> int:
    return int(draw.choice(room.inputs))


def _one_or_all(draw: Draw, room: Studio) -> dict[str, int]:
    return {} if draw.random() < 0.5 else {"input": _one(draw, room)}


def _nothing(draw: Draw, _room: Studio, _peaks: Peaks) -> Faults:
    return ({"kind": str(draw.choice(["standby", "dead cable"]))},)


def _one_dead(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    return ({"kind": "dead cable", "input": _one(draw, room)},)


def _wrong_input(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    other = int(draw.choice(FREE_INPUTS))
    return ({"kind": "swapped inputs", "inputs": [room.inputs[0], other]},)


def _clipped(draw: Draw, room: Studio, peaks: Peaks) -> Faults:
    number = _one(draw, room)
    gain = min(40.0, -peaks[number] + draw.uniform(4, 14))
    moment = {} if draw.random() < 0.5 else _moment(draw, room, left_s=4.0)
    return ({"kind": "clipping input", "input": number, "gain_db": round(gain, 2), **moment},)


def _none(_draw: Draw, _room: Studio, _peaks: Peaks) -> Faults:
    return ()


def _frames(draw: Draw) -> int:
    return max(LEAST_FRAMES, round(float(10.0 ** draw.uniform(0.0, 2.5))))


def _inserted(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    return ({"kind": "slip", "frames": _frames(draw), **_moment(draw, room)},)


def _lost(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    return ({"kind": "slip", "frames": -_frames(draw), **_moment(draw, room)},)


def _both_ways(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    words = {"frames": _frames(draw), "flag": False}
    return ({"kind": "lost frames", **words, **_moment(draw, room)},)


def _uncertain(draw: Draw, _room: Studio, peaks: Peaks) -> Faults:
    """Hiss 3 to 12 dB under the peak of what the playing brings back: the click drowns in it."""
    level = min(-12.0, max(peaks.values()) - draw.uniform(3, 12))
    return ({"kind": "noise", "level_dbfs": round(level, 2)},)


def _inverted(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    return ({"kind": "inverted microphone", "input": _one(draw, room)},)


def _up(draw: Draw, room: Studio) -> float:
    """Return a level that brings noise and hum of the room up by the minimum and more."""
    hum = room.device.hum
    there = max(room.device.noise_dbfs, -200.0 if hum is None else hum.level_dbfs)
    return round(there + LEAST_UP_DB + float(draw.uniform(1.0, 15.0)), 2)


def _noise_up(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    moment = {} if draw.random() < 0.5 else _moment(draw, room)
    level = _up(draw, room)
    return ({"kind": "noise", "level_dbfs": level, **_one_or_all(draw, room), **moment},)


def _hum_up(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    moment = {} if draw.random() < 0.5 else _moment(draw, room)
    hz, level = float(draw.choice([50.0, 60.0])), _up(draw, room)
    return ({"kind": "hum", "hz": hz, "level_dbfs": level, **_one_or_all(draw, room), **moment},)


def _level(draw: Draw, room: Studio, peaks: Peaks) -> Faults:
    """Return a gain either way, but never one that clips: that is another fault."""
    by = LEAST_LEVEL_DB + float(draw.uniform(0.5, 9.0))
    up = draw.random() < 0.5 and max(peaks.values()) + by < -1.0
    return ({"kind": "level", "gain_db": round(by if up else -by, 2), **_one_or_all(draw, room)},)


def _leaks(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    """Return an amp that is dead and a send that leaks clear of the noise."""
    level = min(-32.0, room.device.noise_dbfs + 18.0 + float(draw.uniform(15, 40)))
    return ({"kind": "standby"}, {"kind": "crosstalk", "level_db": round(level, 2)})


def _stops(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    what = str(draw.choice(["standby", "dead cable"]))
    return ({"kind": what, **_moment(draw, room, left_s=LEAST_LOUD_S)},)


def _one_stops(draw: Draw, room: Studio, _peaks: Peaks) -> Faults:
    moment = _moment(draw, room, left_s=LEAST_LOUD_S)
    return ({"kind": "dead cable", "input": _one(draw, room), **moment},)


_SLIPPED = frozenset({"frames-slipped", "frames-lost"})
_DEAD = frozenset({"nothing-came-back", "dead-amp"})
_STOPPED = frozenset({"dead-amp", "silent-from"})
_UNCERTAIN = frozenset({"placement-loose", "not-placed", "placed-by-earlier", "placed-elsewhere"})

KINDS = {
    "nothing came back": Kind(_DEAD, "redo", _nothing),
    "one microphone dead": Kind(_DEAD, "redo", _one_dead),
    "wrong input": Kind(frozenset({"wrong-input"}), "redo", _wrong_input),
    "clipped": Kind(frozenset({"clipped"}), "redo", _clipped, tuple(CHAINS), sibling=True),
    "send clipped": Kind(
        frozenset({"send-clipped"}),
        "redo",
        _none,
        trim_db=(LEAST_SEND_CLIP_DB - PEAK_DBFS, 18.0),
    ),
    "frames inserted": Kind(_SLIPPED, "redo", _inserted),
    "frames lost": Kind(_SLIPPED, "redo", _lost),
    "lost both ways": Kind(_SLIPPED, "redo", _both_ways),
    "placement uncertain": Kind(_UNCERTAIN, "look", _uncertain, sibling=True),
    "polarity changed": Kind(frozenset({"polarity-changed"}), "look", _inverted, sibling=True),
    "noise up": Kind(frozenset({"noise-up"}), "look", _noise_up, sibling=True),
    "hum up": Kind(frozenset({"hum-up"}), "look", _hum_up, sibling=True),
    "level off": Kind(frozenset({"level-off"}), "look", _level, sibling=True),
    "tail cut": Kind(frozenset({"tail-cut"}), "look", _none, tuple(LONG)),
    "only the send leaks": Kind(frozenset({"send-leaks"}), "redo", _leaks),
    "signal stops": Kind(_STOPPED, "redo", _stops),
    "one microphone stops": Kind(_STOPPED, "redo", _one_stops),
}
"""By name; those with frames are planted with a loop, a witness, or neither, as the room has it."""

_FRAMES = ("frames inserted", "frames lost", "lost both ways")
