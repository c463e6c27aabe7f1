"""Plucked strings as sums of their partials: what the finder of hits is tuned on.

An ideal string drawn aside at one point and let go, its slope heard by a pickup at another, partials
stretched by stiffness and dying the faster the higher they are (common practice, no source). Nothing is
heard until the wave has gone from pick to pickup; that is where the hit counts.
"""

from __future__ import annotations

import numpy as np

from hits.plans import Stroke
from hits.strings import Floats

_STIFF = 4e-5
_TOP_HZ = 9_000.0


def modal(stroke: Stroke, frames: int, rate: int, draw: np.random.Generator) -> tuple[int, Floats]:
    """Return one string: the frame its samples begin at, and they; it begins to sound at `at_s`."""
    pitch_hz = 440.0 * 2 ** ((stroke.pitch - 69) / 12)
    picked, heard = draw.uniform(0.1, 0.25), draw.uniform(0.06, 0.28)
    k = np.arange(1, int(min(_TOP_HZ, 0.45 * rate) / pitch_hz) + 1)
    hz = pitch_hz * k * np.sqrt(1 + _STIFF * k**2)
    soft_hz = (
        900.0 if stroke.hammered else 1500.0 if stroke.muted else 3000.0 + 60 * stroke.level_db
    )
    size = np.sin(np.pi * k * picked) * np.sin(np.pi * k * heard) / k / (1 + (hz / soft_hz) ** 2)
    dies = (18.0 + 0.02 * hz) if stroke.muted else (0.9 + 0.0016 * hz)
    begin = int(stroke.at_s * rate)
    t = (begin + np.arange(frames)) / rate - stroke.at_s
    arrives = abs(picked - heard) / 2 / pitch_hz
    sound = _sum(t + arrives, hz, size, dies, stroke.bend)
    sound *= np.clip(t / (0.002 if stroke.hammered else 0.0003), 0.0, 1.0)
    return begin, sound / max(1e-9, float(np.max(np.abs(sound))))


def _sum(t: Floats, hz: Floats, size: Floats, dies: Floats, bend: float) -> Floats:
    swing = bend / 12 * np.log(2) * np.clip((t - 0.3) / 0.3, 0, 1)
    warped = t - swing * np.cos(2 * np.pi * 5 * t) / (2 * np.pi * 5)
    sound = np.zeros(t.size)
    for one_hz, one_size, one_dies in zip(hz, size, dies, strict=True):
        last = min(t.size, 1 + int(t.size * min(1.0, 9.0 / one_dies / max(t[-1], 1e-3))))
        phase = 2 * np.pi * one_hz * warped[:last]
        sound[:last] += one_size * np.exp(-one_dies * t[:last]) * np.sin(phase)
    return sound
