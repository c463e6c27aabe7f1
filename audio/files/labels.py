"""A label text file, as general audio editors export: ``start<TAB>end<TAB>text`` a line, seconds.

A label whose text is a bar (``12``, ``bar 12``), or a bar and a beat of it (``12.3``, ``12|3``), says where
that lies. The time between two of them is divided evenly by the beats between them.

Seconds lie on the recorder's timeline, as ``song_start_s`` does: what an editor counts from a project's
zero, for every DI of the song alike; so ``song_start_s`` is neither needed nor used. Labels whose text
begins otherwise (``chorus``) are passed over.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import NoReturn

from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.tempo import (
    LONGEST_S,
    MOST_CHANGES,
    QUARTER_S,
    Metre,
    MetreChange,
    TempoChange,
    TempoMap,
    tempo_map,
)

_SECONDS = re.compile(r"[0-9]{1,9}(?:[.,][0-9]{1,12})?")
_PLACE = re.compile(r"(?:bar\s+)?([0-9]{1,6})(?:[.|]([0-9]{1,3}))?", re.IGNORECASE)
_MEANT = re.compile(r"[0-9]|bar\s*[0-9|.]", re.IGNORECASE)
"""How a text begins that is meant to be a bar."""

LAST_BAR = 9999
"""Beyond all songs, as for a section."""


@dataclass(frozen=True, slots=True)
class _Label:
    line: int
    beat: int
    """Counted through from bar 1, whose first is 0."""
    at_s: Fraction


def labels_map(text: str, *, where: Path, metre: Metre) -> TempoMap:
    """Read the tempo map that labels tell.

    Parameters
    ----------
    text
        Of the file.
    where
        The file, for messages.
    metre
        Of the song: labels do not tell it.

    Returns
    -------
    TempoMap
        Its bar 1 lies on the recorder's timeline. Before the first label the tempo is that behind it,
        after the last one that before it.

    Raises
    ------
    UseError
        With the line, if a line is none of a label file, a number is not to be understood, a bar is
        labelled twice or out of order, fewer than two are labelled, or a tempo is beyond `QUARTER_S`.
    """
    found = _labels(text, where, metre)
    if len(found) < 2:
        raise UseError(
            f"{where}: {'one bar is' if found else 'no bar is'} labelled, and a tempo takes two; write a"
            " line a label: start, tab, end, tab, the bar: 0.5<TAB>0.5<TAB>1"
        )
    if len(found) > MOST_CHANGES:
        raise UseError(
            f"{where}: {len(found)} bars are labelled, at most {MOST_CHANGES} can be; leave some out"
        )
    tempos = [_between(one, after, where, metre) for one, after in pairwise(found)]
    first = found[0]
    start_s = first.at_s - first.beat * metre.quarters * tempos[0].quarter_s
    return tempo_map(tempos, [MetreChange(Fraction(0), metre)], start_s=start_s)


def _between(one: _Label, after: _Label, where: Path, metre: Metre) -> TempoChange:
    lasts, beats = after.at_s - one.at_s, after.beat - one.beat
    if lasts <= 0:
        _refuse(where, after.line, f"the label lies at or before the one of line {one.line}; sort the"
                                   " labels by time, bars ascending")  # fmt: skip
    if beats <= 0:
        _refuse(where, after.line, f"bars do not ascend from line {one.line} on; give each later label a"
                                   " later bar or beat")  # fmt: skip
    quarter_s = lasts / (beats * metre.quarters)
    low, high = QUARTER_S
    if not low <= quarter_s <= high:
        _refuse(
            where, after.line,
            f"from line {one.line} to here the tempo is {float(60 / quarter_s):g} quarter notes a minute,"
            f" which is none from {float(60 / high):.2f} to {float(60 / low):g}; correct the bars' numbers"
            " or their times, or the song's metre",
        )  # fmt: skip
    return TempoChange(one.beat * metre.quarters, quarter_s)


# ------------------------------------------------------------------ lines


def _labels(text: str, where: Path, metre: Metre) -> list[_Label]:
    found = []
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1):
        if line.strip() and not line.startswith("\\"):  # a label's range of frequencies
            label = _label(line, number, where, metre)
            found += [label] if label else []
    return found


def _label(line: str, number: int, where: Path, metre: Metre) -> _Label | None:
    """Return the label of a line, None where it is about no bar."""
    fields = line.split("\t", 2)
    if len(fields) != 3:
        _refuse(where, number, "this is no label; write start, tab, end, tab and the bar, or export the"
                               " labels as text again")  # fmt: skip
    start, end = (_seconds(field, number, where) for field in fields[:2])
    if end < start:
        _refuse(where, number, "the label ends before it begins; exchange the two times")
    words = fields[2].strip()
    if not _MEANT.match(words):
        return None
    return _Label(number, _beat(words, number, where, metre), start)


def _beat(words: str, number: int, where: Path, metre: Metre) -> int:
    match = _PLACE.fullmatch(words)
    if match is None:
        _refuse(where, number, f"{shown(words[:40])!r} is no bar; write the bar alone, such as 12, or bar"
                               " and beat, such as 12.3")  # fmt: skip
    bar, beat = int(match[1]), int(match[2] or 1)
    if not 1 <= bar <= LAST_BAR:
        _refuse(where, number, f"there is no bar {bar}; bars count from 1 to {LAST_BAR}")
    if not 1 <= beat <= metre.beats:
        _refuse(where, number, f"a bar of {metre} has no beat {beat}; count from 1 to {metre.beats}, or"
                               " correct the song's metre")  # fmt: skip
    return (bar - 1) * metre.beats + beat - 1


def _seconds(field: str, number: int, where: Path) -> Fraction:
    text = field.strip()
    if not _SECONDS.fullmatch(text):
        _refuse(
            where, number, f"{shown(text[:40])!r} is no time in seconds; write one such as 12.5"
        )
    whole, comma, decimals = text.partition(",")
    if comma and len(decimals) == 3:
        _refuse(where, number, f"{text} can be {whole}.{decimals} or {whole}{decimals}; write it with a"
                               " decimal point, or export more decimals")  # fmt: skip
    found = Fraction(text.replace(",", "."))
    if found > LONGEST_S:
        _refuse(
            where, number, f"{text} s lies beyond a day; give seconds on the recorder's timeline"
        )
    return found


def _refuse(where: Path, line: int, why: str) -> NoReturn:
    raise UseError(f"{where}, line {line}: {why}")
