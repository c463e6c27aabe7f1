"""A plucked string: a delay line that hears itself through a soft filter.

The method is Karplus and Strong, "Digital Synthesis of Plucked-String and Drum Timbres", Computer
Music Journal 7(2), 1983; the pick's place as a comb and the tuned loop follow Jaffe and Smith in the
same issue. Only additions and multiplications touch the samples, so that every machine makes the
same ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

import numpy as np
from numpy.typing import NDArray

Signal = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Touch:
    """How a string is struck and damped."""

    loud: float = 1.0
    """Linear, 0 to 1."""
    pick: float = 0.13
    """Where the pick meets the string, as a share of its length, from the bridge."""
    muted: bool = False
    """Whether the palm rests on it."""


OPEN_DECAY_S = 5.0
"""Time in which an open string falls by 60 dB; common practice, no source."""
MUTED_DECAY_S = 0.35
"""The same under the palm."""
OPEN_SOFTENING = 0.14
"""Weight of the loop's neighbours in its filter: the higher, the sooner the treble is gone."""
MUTED_SOFTENING = 0.8


def frequency(note: int) -> float:
    """Return the frequency in hertz of a MIDI note number, A4 (69) at 440 Hz (ISO 16)."""
    return 440.0 * float(2.0 ** ((note - 69) / 12.0))


def pluck(note: int, *, frames: int, rate: int, touch: Touch, seed: int) -> Signal:
    """Return one plucked note.

    Parameters
    ----------
    note
        MIDI note number.
    frames
        Length; the string rings on into it, undamped.
    rate
        Frames a second.
    touch
        How it is played.
    seed
        Of the noise the string starts from.

    Returns
    -------
    Signal
        Shape (frames,), within ±4 · `touch.loud`.
    """
    period = rate / frequency(note)
    taps, whole = _loop(period, rate=rate, muted=touch.muted)
    longest = whole + len(taps) - 1
    line = np.zeros(longest + frames)
    start = _excitation(longest, period=period, touch=touch, seed=seed)
    line[:longest] = start
    for at in range(longest, longest + frames, whole):
        until = min(at + whole, longest + frames)
        for k, tap in enumerate(taps):
            line[at:until] += tap * line[at - whole - k : until - whole - k]
    tone: Signal = touch.loud * line[longest:]
    return tone


def _loop(period: float, *, rate: int, muted: bool) -> tuple[list[float], int]:
    """Return the loop filter and the whole frames before it, `period` frames of delay together."""
    decay_s = MUTED_DECAY_S if muted else OPEN_DECAY_S
    keep = float(10.0 ** (-3.0 * period / (rate * decay_s)))
    soft = MUTED_SOFTENING if muted else OPEN_SOFTENING
    damp = [soft / 2.0 * keep, (1.0 - soft) * keep, soft / 2.0 * keep]  # one frame late
    whole = int(period) - 2
    between = _between(period - 1.0 - whole)
    taps = [0.0] * (len(damp) + len(between) - 1)
    for i, a in enumerate(damp):
        for j, b in enumerate(between):
            taps[i + j] += a * b
    return taps, whole


def _between(delay: float) -> list[float]:
    """Return a third-order Lagrange interpolator for a delay of 1 to 2 frames (any handbook)."""
    taps = []
    for k in range(4):
        tap = 1.0
        for j in range(4):
            if j != k:
                tap *= (delay - j) / (k - j)
        taps.append(tap)
    return taps


def _excitation(frames: int, *, period: float, touch: Touch, seed: int) -> Signal:
    """Return one period of noise as a pick leaves it: combed by its place, softer when quiet."""
    dice = Random(seed)  # noqa: S311 - its sequence is the same everywhere, which is all it is for
    noise = [2.0 * dice.random() - 1.0 for _ in range(frames)]
    soft = np.array(_softened(noise, share=0.02 + 0.04 * touch.loud))
    combed = soft - np.roll(soft, max(1, round(touch.pick * period)))
    balanced: Signal = 4.0 * (combed - combed.sum() / frames)
    return balanced


def _softened(noise: list[float], *, share: float) -> list[float]:
    """Return `noise` through a one-pole low pass, run round twice so that its ends meet."""
    now, out = 0.0, []
    for value in noise + noise:
        now += share * (value - now)
        out.append(now)
    return out[len(noise) :]
