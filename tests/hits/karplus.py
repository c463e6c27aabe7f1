"""Plucked strings after Karplus and Strong, kept aside for judging.

K. Karplus, A. Strong, "Digital Synthesis of Plucked-String and Drum Timbres", Computer Music Journal 7(2),
1983: a burst of noise as long as the string's period goes round a delay line and loses its brightness by an
average of neighbours. Here with a tuned delay (between two frames by cubic interpolation), a pick position
(a comb on the burst) and a pick that is softer where it strikes softly.
"""

from __future__ import annotations

import numpy as np

from hits.plans import Stroke
from hits.strings import Floats, bent, late


def karplus(
    stroke: Stroke, frames: int, rate: int, draw: np.random.Generator
) -> tuple[int, Floats]:
    """Return one string: the frame its samples begin at, and they."""
    period = rate / (440.0 * 2 ** ((stroke.pitch - 69) / 12))
    burst = _burst(stroke, period, rate, draw)
    sound = _go_round(burst, period, frames, *_losses(stroke, period, rate))
    if stroke.bend:
        sound = bent(sound, semitones=stroke.bend, rate=rate)
    sound = _pickup(sound, rate) / max(1e-9, float(np.max(np.abs(sound))))
    whole = int(stroke.at_s * rate)
    return whole - 16, late(sound, stroke.at_s * rate - whole)


def _burst(stroke: Stroke, period: float, rate: int, draw: np.random.Generator) -> Floats:
    size = int(period)
    burst = draw.choice((-1.0, 1.0), size)
    hz = 700.0 if stroke.hammered else 2500.0 if stroke.muted else 3500.0 + 100.0 * stroke.level_db
    burst = _one_pole(burst, max(1200.0, hz) if not stroke.hammered else hz, rate)
    picked = max(1, round(draw.uniform(0.08, 0.25) * period))
    comb = burst.copy()
    comb[picked:] -= burst[:-picked]
    return comb - comb.mean() * np.linspace(0, 2, size)


def _losses(stroke: Stroke, period: float, rate: int) -> tuple[float, float]:
    """Return what is left after one round, and how much of the neighbour is mixed in."""
    dies_s = 0.12 if stroke.muted else 3.5
    return 10 ** (-3.0 * period / rate / dies_s), 0.5 if stroke.muted else 0.18


def _go_round(burst: Floats, period: float, frames: int, keep: float, mixed: float) -> Floats:
    delay = period - mixed
    whole = int(delay) - 1
    f = delay - whole
    cubic = np.array(
        [
            -(f - 1) * (f - 2) * (f - 3) / 6,
            f * (f - 2) * (f - 3) / 2,
            -f * (f - 1) * (f - 3) / 2,
            f * (f - 1) * (f - 2) / 6,
        ]
    )
    taps = keep * np.convolve(cubic, [1.0 - mixed, mixed])
    lead = whole + taps.size
    out = np.zeros(lead + frames)
    out[lead : lead + burst.size] = burst[:frames]
    for at in range(lead, out.size, whole):
        end = min(at + whole, out.size)
        past = out[at - whole - taps.size + 1 : end - whole]
        out[at:end] += np.convolve(past, taps, mode="valid")
    return out[lead:]


def _pickup(sound: Floats, rate: int) -> Floats:
    return _one_pole(sound, 4500.0, rate)


def _one_pole(sound: Floats, hz: float, rate: int) -> Floats:
    keep = np.exp(-2 * np.pi * hz / rate)
    size = min(sound.size, max(8, int(12 / (1 - keep))))
    return np.convolve(sound, (1 - keep) * keep ** np.arange(size))[: sound.size]
