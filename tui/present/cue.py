"""The cue in words: what is heard, and where."""

from __future__ import annotations

from audio.vocab.units import shortest
from audio.vocab.wiring import Cue, Wiring

BACKING_STEPS: tuple[float | None, ...] = (None, -24.0, -18.0, -12.0, -9.0, -6.0, -3.0, 0.0)
"""Gains of the backing track that are chosen on the screen, dB; a file may say any other."""

COUNT_IN_STEPS = (0, 1, 2, 3, 4)

CAUTION = "headphones and monitors down first: it is heard in every pass"


def backing_words(cue: Cue | None) -> str:
    """Return how loud the backing track is heard: ``off``, ``−6 dB``."""
    if cue is None or cue.backing_db is None:
        return "off"
    return f"{shortest(cue.backing_db)} dB"


def count_in_words(cue: Cue | None) -> str:
    """Return how many bars are counted in: ``off``, ``1 bar``."""
    bars = cue.count_in_bars if cue is not None else 0
    return "off" if not bars else "1 bar" if bars == 1 else f"{bars} bars"


def outs(numbers: tuple[int, ...]) -> str:
    """Return outputs as they stand beside a roll: ``out 1``, ``outs 1-2``, ``outs 1, 4``."""
    if len(numbers) == 1:
        return f"out {numbers[0]}"
    first, last = numbers[0], numbers[-1]
    if numbers == tuple(range(first, last + 1)):
        return f"outs {first}-{last}"
    return f"outs {', '.join(str(one) for one in numbers)}"


def caution(wiring: Wiring | None) -> str:
    """Return what to say before a pass with a cue; empty where nobody hears one."""
    if wiring is None or wiring.cue is None:
        return ""
    return f"A cue plays on {outs(wiring.listen_outputs)}: headphones and monitors down first."
