"""What is played in a phrase: which strings are struck when, how loud, and how.

Only the playing; what it sounds like is made by `karplus` and `modal`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

OPEN_STRINGS = (40, 45, 50, 55, 59, 64)
"""MIDI numbers of a guitar's strings in standard tuning."""
Draw = np.random.Generator


@dataclass(frozen=True, kw_only=True)
class Stroke:
    """One string struck once."""

    at_s: float
    string: int
    pitch: int
    level_db: float = 0.0
    muted: bool = False
    """Palm on the string."""
    hammered: bool = False
    """Sounded by the fretting hand: softer, duller."""
    bend: float = 0.0
    """Vibrato, semitones from its middle."""
    counts: bool = True
    """A hit begins here: false for the later strings of a chord."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A phrase as played."""

    strokes: tuple[Stroke, ...]
    seconds: float

    def hits_s(self) -> list[float]:
        """Return where hits begin, s."""
        return [one.at_s for one in self.strokes if one.counts]

    def widths_ms(self) -> list[float]:
        """Return each hit's width, ms."""
        firsts = [n for n, one in enumerate(self.strokes) if one.counts] + [len(self.strokes)]
        ends = [self.strokes[after - 1].at_s for after in firsts[1:]]
        return [1e3 * (end - at) for end, at in zip(ends, self.hits_s(), strict=True)]


def singles(draw: Draw) -> Plan:
    """Return eighths and quarters on all strings, some of them 25 dB under the loudest."""
    at = _steps(draw, count=24, shortest_s=0.16, longest_s=0.5)
    return _plan(_note(draw, s, level_db=draw.uniform(-25, 0)) for s in at)


def fast(draw: Draw) -> Plan:
    """Return runs of 65 to 85 ms a note, over one string or from string to string."""
    apart = draw.uniform(0.067, 0.085)
    at = 0.3 + apart * np.arange(40) + draw.normal(0, 0.0007, 40)
    strings = np.clip(3 + np.cumsum(draw.integers(-1, 2, 40) * (draw.random(40) < 0.4)), 0, 5)
    return _plan(
        _note(draw, s, string=int(string), level_db=draw.uniform(-8, 0))
        for s, string in zip(at, strings, strict=True)
    )


def strums(draw: Draw) -> Plan:
    """Return chords of three to six strings, struck within 0 to 55 ms, up and down."""
    at = _steps(draw, count=14, shortest_s=0.22, longest_s=0.7)
    return _plan(one for s in at for one in _strum(draw, s, width_s=draw.uniform(0.0, 0.055)))


def mutes(draw: Draw) -> Plan:
    """Return palm mutes on the two lowest strings, sixteenths and eighths, accents among them."""
    at = _steps(draw, count=32, shortest_s=0.09, longest_s=0.2)
    return _plan(
        _note(draw, s, string=int(draw.integers(2)), level_db=draw.uniform(-14, 0), muted=True)
        for s in at
    )


def legato(draw: Draw) -> Plan:
    """Return picked notes with a hammer-on or pull-off behind every other one."""
    strokes = []
    for s in _steps(draw, count=12, shortest_s=0.35, longest_s=0.6):
        picked = _note(draw, s, level_db=draw.uniform(-8, 0))
        strokes.append(picked)
        if draw.random() < 0.6:
            after, level = s + draw.uniform(0.12, 0.22), picked.level_db - draw.uniform(4, 10)
            strokes.append(_note(draw, after, string=picked.string, level_db=level, hammered=True))
    return _plan(strokes)


def quiet(draw: Draw) -> Plan:
    """Return one hard knock of a chord, then notes 30 to 38 dB under it."""
    at = _steps(draw, count=16, shortest_s=0.3, longest_s=0.6)
    loud = _strum(draw, 0.2, width_s=0.01)
    stop = at[0] + 2.2 - 0.3
    return _plan([*loud, *(_note(draw, s + stop, level_db=draw.uniform(-38, -30)) for s in at)])


def held(draw: Draw) -> Plan:
    """Return long notes with vibrato and long chords that beat: hardly any hits, much movement."""
    strokes = []
    for s in _steps(draw, count=6, shortest_s=1.4, longest_s=2.2):
        if draw.random() < 0.5:
            strokes += _strum(draw, s, width_s=draw.uniform(0.0, 0.03))
        else:
            strokes.append(_note(draw, s, bend=draw.uniform(0.2, 0.8)))
    return _plan(strokes)


FAMILIES: dict[str, Callable[[Draw], Plan]] = {
    "single notes": singles,
    "fast runs": fast,
    "strummed chords": strums,
    "palm mutes": mutes,
    "hammer-ons": legato,
    "quiet notes": quiet,
    "long notes": held,
}


def _steps(draw: Draw, *, count: int, shortest_s: float, longest_s: float) -> list[float]:
    return [float(s) for s in 0.3 + np.cumsum(draw.uniform(shortest_s, longest_s, count))]


def _note(
    draw: Draw,
    at_s: float,
    *,
    string: int | None = None,
    level_db: float = 0.0,
    muted: bool = False,
    hammered: bool = False,
    bend: float = 0.0,
) -> Stroke:
    on = int(draw.integers(6)) if string is None else string
    pitch = OPEN_STRINGS[on] + int(draw.integers(13))
    return Stroke(
        at_s=float(at_s),
        string=on,
        pitch=pitch,
        level_db=float(level_db),
        muted=muted,
        hammered=hammered,
        bend=float(bend),
    )


def _strum(draw: Draw, at_s: float, *, width_s: float) -> list[Stroke]:
    """Return a chord from low to high or back, its strings unevenly apart."""
    count = int(draw.integers(3, 7))
    first = int(draw.integers(0, 7 - count))
    strings = np.arange(first, first + count)[:: 1 if draw.random() < 0.6 else -1]
    gaps = draw.uniform(0.6, 1.4, count - 1)
    later = np.concatenate(([0.0], np.cumsum(gaps / gaps.sum()) * width_s))
    level = draw.uniform(-12, 0)
    return [
        Stroke(
            at_s=float(at_s + after),
            string=int(string),
            pitch=OPEN_STRINGS[string] + int(draw.integers(5)),
            level_db=float(level + draw.uniform(-5, 0)),
            counts=number == 0,
        )
        for number, (string, after) in enumerate(zip(strings, later, strict=True))
    ]


def _plan(strokes: Iterable[Stroke]) -> Plan:
    all_of_them = tuple(strokes)
    return Plan(strokes=all_of_them, seconds=all_of_them[-1].at_s + 1.2)
