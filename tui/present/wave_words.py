"""What stands over and under a waveform: a ruler of bars, times or frames, and the place in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from audio.grid.bars import BarGrid
from audio.vocab.units import clock_time, signed
from tui.present.bars import LABEL_GAP, Line
from tui.present.ruler import TICK, Placed
from tui.present.wave_view import Look

_MS = (
    *(1, 2, 5, 10, 20, 50, 100, 200, 500),
    *(1000 * s for s in (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600)),
)
"""Steps of a ruler of times, milliseconds; over a second they divide a minute or an hour."""

_LEAST_BARS = 2
"""Labels a ruler of bars needs to say anything about distances."""


def exact_time(frame: int, *, rate: int) -> str:
    """Return a frame's time as ``m:ss.mmm``, to the nearest millisecond."""
    ms = round(Fraction(1000 * frame, rate))
    return f"{ms // 60_000}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"


def ruler_ticks(look: Look, *, rate: int, lines: Sequence[Line]) -> list[Placed]:
    """Return what the ruler over a view says, so that no label crowds another.

    Parameters
    ----------
    look
        The view.
    rate
        Frames a second.
    lines
        Bars and beats in view; none where the tempo is not known.

    Returns
    -------
    list of (int, str)
        Column and words: bars where two of their labels are in view, frames where a frame has a column
        or more, times else.
    """
    bars = [(line.column, TICK + line.label) for line in lines if line.label]
    ticks = bars if len(bars) >= _LEAST_BARS else _by_scale(look, rate)
    return [(x, words) for x, words in ticks if x + len(words) <= look.width]


def _by_scale(look: Look, rate: int) -> list[Placed]:
    return _frames(look) if look.scale <= 1 else _times(look, rate)


def _frames(look: Look) -> list[Placed]:
    room = (len(f"{TICK}{look.end}") + LABEL_GAP) * look.scale
    step = next(k * 10**p for p in range(12) for k in (1, 2, 5) if k * 10**p >= room)
    first = math.ceil(look.first / step) * step
    return [(look.steps_to(f), f"{TICK}{f}") for f in range(first, look.end, step)]


def _times(look: Look, rate: int) -> list[Placed]:
    step_ms = next((ms for ms in _MS if _has_room(look, rate, ms)), _MS[-1])
    first = -(-int(look.first) * 1000 // (rate * step_ms)) * step_ms
    last = look.end * 1000 // rate
    ticks = []
    for ms in range(first, last + 1, step_ms):
        frame = round(Fraction(ms * rate, 1000))
        if frame < look.end and look.place(frame) is not None:
            ticks.append((look.steps_to(frame), TICK + _time(ms, step_ms)))
    return ticks


def _has_room(look: Look, rate: int, step_ms: int) -> bool:
    longest = len(TICK + _time(look.end * 1000 // rate, step_ms))
    return step_ms * rate / 1000 / look.scale >= longest + LABEL_GAP


def _time(ms: int, step_ms: int) -> str:
    return clock_time(ms / 1000) if step_ms >= 1000 else exact_time(ms, rate=1000)


def whole_words(look: Look, *, rate: int, bars: BarGrid | None) -> str:
    """Return what a view of a whole file shows, in words."""
    told = []
    if bars is not None:
        first, last = (bars.bar_at(frame) for frame in (0, look.frames - 1))
        told = [f"bars {signed(first)} to {signed(last)}"]
    length = exact_time(look.frames, rate=rate)
    return " · ".join(["whole part", *told, length, f"{look.frames} frames", scale_words(look)])


def place_words(frame: int, look: Look, *, rate: int, bars: BarGrid | None) -> str:
    """Return a place in words, such as ``bar 3 · 0:05.123 · frame 245904 · 64 frames a column``."""
    told = []
    if bars is not None:
        bar, beat = bars.named(bars.beat_at(frame))
        told = [f"bar {signed(bar)}" if beat == 1 else f"bar {signed(bar)} beat {beat}"]
    return " · ".join([*told, exact_time(frame, rate=rate), f"frame {frame}", scale_words(look)])


def scale_words(look: Look) -> str:
    """Return how close a view is, in words."""
    if look.scale < 1:
        return f"{round(1 / look.scale)} columns a frame"
    return f"{int(look.scale)} frame{'' if look.scale == 1 else 's'} a column"
