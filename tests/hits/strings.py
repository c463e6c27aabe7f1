"""Strings that are struck are put together to a DI: what was on a string stops, noise lies under all."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from hits.plans import Plan, Stroke

Floats = NDArray[np.float64]
Maker = Callable[[Stroke, int, int, np.random.Generator], tuple[int, Floats]]
"""Makes one string's sound: stroke, frames, rate, draw; the frame it begins at, and its samples."""

_STOP_S = 0.004
"""How fast a string goes silent where the pick or a finger comes back to it."""


def di(plan: Plan, maker: Maker, *, rate: int, seed: int, noise_dbfs: float = -78.0) -> Floats:
    """Return the DI of a phrase, shape (frames,), peak −3 dBFS, with noise and a little hum."""
    draw = np.random.default_rng([seed, 77])
    frames = round(plan.seconds * rate)
    out = np.zeros(frames)
    for number, stroke in enumerate(plan.strokes):
        again = [o.at_s for o in plan.strokes[number + 1 :] if o.string == stroke.string]
        end = plan.seconds if not again else again[0]
        length = min(frames - int(stroke.at_s * rate) - 40, round((end - stroke.at_s) * rate))
        begin, sound = maker(stroke, length + 32, rate, draw)
        stop = min(sound.size, round(_STOP_S * rate))
        sound[sound.size - stop :] *= np.linspace(1.0, 0.0, stop)
        out[begin : begin + sound.size] += sound[: frames - begin] * 10 ** (stroke.level_db / 20)
    out *= 10 ** (-3 / 20) / np.max(np.abs(out))
    hum = np.sin(2 * np.pi * 50 * np.arange(frames) / rate) * 10 ** ((noise_dbfs + 3) / 20)
    return out + hum + draw.normal(0, 10 ** (noise_dbfs / 20), frames)


def late(sound: Floats, fraction: float) -> Floats:
    """Return samples moved by a fraction of a frame with a windowed sinc: 16 frames come first."""
    taps = np.arange(-16, 17) - fraction
    kernel = np.sinc(taps) * np.cos(np.pi * taps / 34.0) ** 2
    return np.convolve(sound, kernel)


def bent(sound: Floats, *, semitones: float, rate: int) -> Floats:
    """Return a string's sound with vibrato that sets in after 0.3 s, 5 Hz."""
    t = np.arange(sound.size) / rate
    swing = semitones * np.sin(2 * np.pi * 5 * t) * np.clip((t - 0.3) / 0.3, 0, 1)
    return np.interp(np.cumsum(2 ** (swing / 12)) - 1.0, np.arange(sound.size), sound)
