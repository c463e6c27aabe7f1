"""What is planted, at its minimum size or more, and what must be said of it.

The sizes begin where `audio.verdict.thresholds` says that a fault must be found.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

from material import PEAK_DBFS
from verdict_rooms import (
    CHAINS,
    LONG,
    STEADY,
    WITH_POLARITY,
    Draw,
    Pedals,
    Riff,
    Studio,
    draw_for,
    pedals,
)

from audio.vocab.findings import Verdict

Faults = tuple[dict[str, Any], ...]


class Before(NamedTuple):
    """What the good take of the chain was, by input, dBFS."""

    peaks: Mapping[int, float]
    clicks: Mapping[int, float]
    """Peak of the test click."""
    click_dbfs: float
    """Level at which it was sent."""


NOTHING_BEFORE = Before({}, {}, 0.0)


class Place(NamedTuple):
    """Where a fault is planted."""

    room: Studio
    riff: Riff
    before: Before


LEAST_FRAMES = 1
LEAST_UP_DB = 10.0
LEAST_LEVEL_DB = 6.0
LEAST_CLIPPED_RUNS = 10
LEAST_LOUD_S = 2.0
"""Loud playing that is left when a signal stops."""
LOOSE_MS = 0.25
"""A pass that lies further off than this and is not said to is misplaced."""
LEAST_SEND_CLIP_DB = 4.0
SHORT_TAIL_S = 2.5
"""Longest tail where it is to be cut."""


@dataclass(frozen=True)
class Kind:
    """A kind of fault: how it is planted and by which words it is found."""

    codes: frozenset[str]
    """One of them must be named."""
    least: Verdict
    """What it must weigh at least."""
    plant: Callable[[Draw, Place], Faults]
    chains: tuple[str, ...] = STEADY
    """Of which kinds of chain one is drawn."""
    sibling: bool = False
    """Whether a good take of the same chain comes first."""
    trim_db: tuple[float, float] | None = None
    """Between which the DI's trim is drawn, where that is the fault."""
    wired: Literal["as usual", "quiet click", "short tail"] = "as usual"
    """``quiet click``: no louder than in the good take; ``short tail``: of `SHORT_TAIL_S`. Either has a
    wiring of its own."""


@dataclass(frozen=True)
class Planted:
    """One fault in one room."""

    kind: str
    chain: str
    """Name of the chain it belongs to, its own."""
    base: str
    """Which kind of chain it is."""
    pedals: Pedals
    riff: Riff
    trim_db: float | None

    @property
    def with_proof(self) -> bool:
        """Whether it is told apart by the room's loop or witness."""
        return self.kind in _FRAMES

    def faults(self, room: Studio, before: Before) -> Faults:
        """Return the fault's words, tied to the chain."""
        draw = draw_for(room.number, f"{self.chain} fault")
        made = KINDS[self.kind].plant(draw, Place(room, self.riff, before))
        return tuple({**one, "chain": self.chain} for one in made)


def planted(room: Studio, kind: str) -> Planted:
    """Return what of a kind is planted in a room; its chain has the kind's name."""
    draw, what = draw_for(room.number, f"{kind} chain"), KINDS[kind]
    base = str(draw.choice(what.chains))
    trim = None if what.trim_db is None else round(float(draw.uniform(*what.trim_db)), 2)
    # Where playing never gets loud enough for the room to notice, a moment within it cannot be told.
    riffs = [riff for riff in room.riffs if math.isfinite(riff.begins_s)]
    riff = riffs[int(draw.integers(len(riffs)))]
    return Planted(kind, kind, base, pedals(draw, base), riff, trim)


# ---------------------------------------------------------------- how each is planted


def _moment(draw: Draw, at: Place, *, loud_s: float = 0.5) -> dict[str, float]:
    """Return a moment within the riff, so much loud playing left after it."""
    latest = at.riff.last_with(loud_s) - at.riff.begins_s
    return {"after_sound_s": round(float(draw.uniform(0.5, max(0.6, latest))), 4)}


def _one(draw: Draw, at: Place) -> int:
    return int(draw.choice(at.room.inputs))


def _one_or_all(draw: Draw, at: Place) -> dict[str, int]:
    return {} if draw.random() < 0.5 else {"input": _one(draw, at)}


def _nothing(draw: Draw, _at: Place) -> Faults:
    return ({"kind": str(draw.choice(["standby", "dead cable"]))},)


def _one_dead(draw: Draw, at: Place) -> Faults:
    return ({"kind": "dead cable", "input": _one(draw, at)},)


def _wrong_input(draw: Draw, at: Place) -> Faults:
    other = int(draw.choice(at.room.free_inputs))
    return ({"kind": "swapped inputs", "inputs": [at.room.inputs[0], other]},)


def _clipped(draw: Draw, at: Place) -> Faults:
    number = _one(draw, at)
    gain = min(40.0, -at.before.peaks[number] + draw.uniform(1, 10))
    moment = {} if draw.random() < 0.5 else _moment(draw, at, loud_s=2.0)
    return ({"kind": "clipping input", "input": number, "gain_db": round(gain, 2), **moment},)


def _none(_draw: Draw, _at: Place) -> Faults:
    return ()


def _frames(draw: Draw) -> int:
    return max(LEAST_FRAMES, round(float(10.0 ** draw.uniform(0.0, 2.5))))


def _inserted(draw: Draw, at: Place) -> Faults:
    return ({"kind": "slip", "frames": _frames(draw), **_moment(draw, at)},)


def _lost(draw: Draw, at: Place) -> Faults:
    return ({"kind": "slip", "frames": -_frames(draw), **_moment(draw, at)},)


def _both_ways(draw: Draw, at: Place) -> Faults:
    """Return frames that are lost while playing sounds: in a rest nothing is missing afterwards."""
    words = {"frames": _frames(draw), "flag": False}
    moment = _moment(draw, at)
    while not at.riff.sounds_at(at.riff.begins_s + moment["after_sound_s"]):
        moment = _moment(draw, at)
    return ({"kind": "lost frames", **words, **moment},)


def _uncertain(draw: Draw, at: Place) -> Faults:
    """Return hiss as strong as the click's peak at the reference and more; playing stands over it."""
    reference = at.room.inputs[0]
    most = at.before.peaks[reference] - 16.0
    level = min(at.before.clicks[reference] + draw.uniform(0, 8), most)
    return ({"kind": "noise", "level_dbfs": round(level, 2)},)


def _inverted(draw: Draw, at: Place) -> Faults:
    return ({"kind": "inverted microphone", "input": _one(draw, at)},)


def _up(draw: Draw, room: Studio) -> float:
    """Return a level that brings noise and hum of the room up by the minimum and more."""
    hum = room.device.hum
    there = max(room.device.noise_dbfs, -200.0 if hum is None else hum.level_dbfs)
    return round(there + LEAST_UP_DB + float(draw.uniform(1.0, 15.0)), 2)


def _noise_up(draw: Draw, at: Place) -> Faults:
    moment = {} if draw.random() < 0.5 else _moment(draw, at)
    level = _up(draw, at.room)
    return ({"kind": "noise", "level_dbfs": level, **_one_or_all(draw, at), **moment},)


def _hum_up(draw: Draw, at: Place) -> Faults:
    moment = {} if draw.random() < 0.5 else _moment(draw, at)
    hz, level = float(draw.choice([50.0, 60.0])), _up(draw, at.room)
    return ({"kind": "hum", "hz": hz, "level_dbfs": level, **_one_or_all(draw, at), **moment},)


def _level(draw: Draw, at: Place) -> Faults:
    """Return a gain either way, but never one that clips: that is another fault."""
    by = LEAST_LEVEL_DB + float(draw.uniform(0.5, 9.0))
    up = draw.random() < 0.5 and max(at.before.peaks.values()) + by < -1.0
    return ({"kind": "level", "gain_db": round(by if up else -by, 2), **_one_or_all(draw, at)},)


def _leaks(draw: Draw, at: Place) -> Faults:
    """Return an amp that is dead and a send that leaks clear of the noise."""
    level = min(-32.0, at.room.device.noise_dbfs + 18.0 + float(draw.uniform(15, 40)))
    return ({"kind": "standby"}, {"kind": "crosstalk", "level_db": round(level, 2)})


def _stops(draw: Draw, at: Place) -> Faults:
    what = str(draw.choice(["standby", "dead cable"]))
    return ({"kind": what, **_moment(draw, at, loud_s=LEAST_LOUD_S)},)


def _one_stops(draw: Draw, at: Place) -> Faults:
    moment = _moment(draw, at, loud_s=LEAST_LOUD_S)
    return ({"kind": "dead cable", "input": _one(draw, at), **moment},)


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
    "placement uncertain": Kind(_UNCERTAIN, "look", _uncertain, sibling=True, wired="quiet click"),
    "polarity changed": Kind(
        frozenset({"polarity-changed"}), "look", _inverted, WITH_POLARITY, sibling=True
    ),
    "noise up": Kind(frozenset({"noise-up"}), "look", _noise_up, tuple(CHAINS), sibling=True),
    "hum up": Kind(frozenset({"hum-up"}), "look", _hum_up, tuple(CHAINS), sibling=True),
    "level off": Kind(frozenset({"level-off"}), "look", _level, tuple(CHAINS), sibling=True),
    "tail cut": Kind(frozenset({"tail-cut"}), "look", _none, tuple(LONG), wired="short tail"),
    "only the send leaks": Kind(frozenset({"send-leaks"}), "redo", _leaks),
    "signal stops": Kind(_STOPPED, "redo", _stops),
    "one microphone stops": Kind(_STOPPED, "redo", _one_stops),
}
"""By name; those with frames are planted with a loop, a witness, or neither, as the room has it."""

_FRAMES = ("frames inserted", "frames lost", "lost both ways")
