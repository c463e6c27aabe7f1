"""Pairs of takes that differ by one thing whose size is known, for `bench_differences`; all from a seed.

Rooms, pedals and cabinets are those of `likeness_rooms`. What is planted is put into the second take behind
the microphones: filters after the cookbook of audio equalisers (R. Bristow-Johnson, from memory), levels,
repeats, a reverb of decaying noise, hiss. A drive is turned up in the room itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from likeness_rooms import RATE, Floats, LikenessRoom, room, take
from scipy import signal

Plant = Literal[
    "nothing", "slow tremolo", "level", "shelf", "bell", "echo", "tail", "noise", "drive"
]
PLANTS: tuple[Plant, ...] = (
    *("nothing", "slow tremolo", "level", "shelf", "bell", "echo", "tail", "noise", "drive"),
)


REVERB_UNDER_DB = 8.0
"""How far a reverb lies under what it is given, in all."""


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two takes, shape (frames,) each, on the DI's frames."""

    plant: Plant
    di: Floats
    a: Floats
    b: Floats
    db: float = 0.0
    """Gain, or how far the repeat lies under what it repeats."""
    hz: float = 0.0
    ms: float = 0.0
    low: bool = False
    """A shelf that lifts what lies below its corner."""


def pair(seed: int, plant: Plant) -> Pair:
    """Return the pair of a seed."""
    draw = np.random.default_rng([seed, 41, PLANTS.index(plant)])
    place = room(seed)
    a = _mix(place, 1)
    if plant == "drive":
        turned = replace(place, drive_db=place.drive_db + 9.0)
        return Pair(plant=plant, di=place.di, a=a, b=_mix(turned, 2), db=9.0)
    b = _mix(place, 2)
    if plant == "slow tremolo":
        hz, depth = draw.uniform(0.4, 2.0), draw.uniform(0.2, 0.6)
        a, b = (_tremolo(one, hz, depth, draw) for one in (a, b))
    planted = Pair(plant=plant, di=place.di, a=a, b=b)
    return replace(planted, **_planted(b, plant, draw))


def _planted(  # noqa: PLR0911 - one for each plant
    b: Floats, plant: Plant, draw: np.random.Generator
) -> dict[str, Any]:
    sign = float(draw.choice((-1.0, 1.0)))
    match plant:
        case "level":
            db = sign * draw.uniform(1.0, 9.0)
            return {"b": b * 10 ** (db / 20), "db": db}
        case "shelf":
            db, hz = (
                sign * draw.uniform(2.0, 8.0),
                float(np.exp(draw.uniform(*np.log((200, 4000))))),
            )
            low = bool(draw.random() < 0.5)
            return {"b": signal.lfilter(*shelf(hz, db, low=low), b), "db": db, "hz": hz, "low": low}
        case "bell":
            db, hz = (
                sign * draw.uniform(3.0, 8.0),
                float(np.exp(draw.uniform(*np.log((150, 4000))))),
            )
            return {
                "b": signal.lfilter(*bell(hz, db, draw.uniform(0.8, 2.0)), b), "db": db, "hz": hz
            }  # fmt: skip
        case "echo":
            ms, db = draw.uniform(120.0, 800.0), draw.uniform(-14.0, -6.0)
            return {"b": _repeated(b, ms, db, draw.uniform(0.1, 0.5)), "db": db, "ms": ms}
        case "tail":
            ms = draw.uniform(800.0, 3000.0)
            return {"b": _reverberant(b, ms, draw), "ms": ms}
        case "noise":
            rested = 10 * np.log10(np.mean(b[: RATE // 2] ** 2) + 1e-20)
            db = draw.uniform(6.0, 15.0)
            more = 10 ** ((rested + 10 * np.log10(10 ** (db / 10) - 1)) / 20)
            return {"b": b + more * draw.standard_normal(b.size), "db": db}
        case _:
            return {}


def shelf(hz: float, db: float, *, low: bool) -> tuple[Floats, Floats]:
    """Return the coefficients of a shelf whose quality is 0.707."""
    root, turn = 10 ** (db / 40), 2 * np.pi * hz / RATE
    c, s = np.cos(turn), np.sin(turn) / np.sqrt(2.0) * 2 * np.sqrt(root)
    k = 1.0 if low else -1.0
    b = root * np.array([
        root + 1 - k * (root - 1) * c + s, k * 2 * (root - 1 - k * (root + 1) * c),
        root + 1 - k * (root - 1) * c - s,
    ])  # fmt: skip
    a = np.array([
        root + 1 + k * (root - 1) * c + s, k * -2 * (root - 1 + k * (root + 1) * c),
        root + 1 + k * (root - 1) * c - s,
    ])  # fmt: skip
    return b / a[0], a / a[0]


def bell(hz: float, db: float, quality: float) -> tuple[Floats, Floats]:
    """Return the coefficients of a bell."""
    root, turn = 10 ** (db / 40), 2 * np.pi * hz / RATE
    alpha, c = np.sin(turn) / (2 * quality), np.cos(turn)
    b = np.array([1 + alpha * root, -2 * c, 1 - alpha * root])
    a = np.array([1 + alpha / root, -2 * c, 1 - alpha / root])
    return b / a[0], a / a[0]


def _mix(place: LikenessRoom, number: int) -> Floats:
    first, second = take(place, number).returns
    return 0.7 * (first + second)


def _tremolo(sound: Floats, hz: float, depth: float, draw: np.random.Generator) -> Floats:
    at = np.arange(sound.size) / RATE
    return sound * (1.0 - depth * (0.5 + 0.5 * np.sin(2 * np.pi * (hz * at + draw.random()))))


def _repeated(sound: Floats, ms: float, db: float, feedback: float) -> Floats:
    late, gain, out = round(ms / 1000 * RATE), 10 ** (db / 20), sound.copy()
    for number in range(1, 12):
        at = number * late
        if at < sound.size:
            out[at:] += gain * feedback ** (number - 1) * sound[: sound.size - at]
    return out


def _reverberant(sound: Floats, ms: float, draw: np.random.Generator) -> Floats:
    """Return a sound with a reverb, 60 dB down after so many milliseconds."""
    frames = round(ms / 1000 * RATE)
    room_of = draw.standard_normal(frames) * 10 ** (-3.0 * np.arange(frames) / frames)
    room_of *= 10 ** (-REVERB_UNDER_DB / 20) / np.sqrt(np.sum(room_of**2))
    room_of[: RATE // 100] = 0.0
    return sound + signal.oaconvolve(sound, room_of)[: sound.size]
