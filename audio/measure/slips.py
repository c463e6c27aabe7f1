"""Slips that were found, and what is told of a recording at the end."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from audio.measure.drift import EXACT, Line, Reading, ninety_five, places
from audio.vocab.alignment import Alignment, Disturbance, Slip
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audio.measure.spliced import Stretch

_TELLING = 500e-6
"""A drift that is not known to this says nothing."""


class Slips:
    """What was lost or inserted, and what went wrong for a moment."""

    def __init__(self) -> None:
        self._all: list[Slip] = []
        self._latest = (0, 0)
        self._undone: list[Slip] = []
        self._disturbances: list[Disturbance] = []

    @property
    def told(self) -> tuple[Slip, ...]:
        """All of them in the order of their places, those that undo each other among them."""
        return tuple(sorted((*self._all, *self._undone), key=lambda slip: slip.at_frame))

    @property
    def disturbances(self) -> tuple[Disturbance, ...]:
        """What cannot be told in frames."""
        return tuple(self._disturbances)

    @property
    def frames(self) -> int:
        """All together."""
        return sum(slip.frames for slip in self._all)

    def note(self, by: int, *, first: int, last: int) -> None:
        """Note a slip between two frames of what was played; what touches the one before is part of it."""
        self._latest = first, last
        slip = _between(first, last, by)
        if self._all and _touch(self._all[-1], slip):
            before = self._all.pop()
            first = min(before.at_frame - before.within_frames, first)
            last = max(before.at_frame + before.within_frames, last)
            slip = _between(first, last, before.frames + by)
        if slip.frames:
            self._all.append(slip)

    def amend(self, by: int) -> None:
        """Take note that the latest slip, of which there must be one, was of so many frames more."""
        first, last = self._latest
        self.note(by, first=first, last=last)

    def note_stretch(self, stretch: Stretch, *, delay: int) -> None:
        """Note what went wrong for a moment, `delay` being the recording's around there, whole frames."""
        self._undone += [
            _between(turn.first - delay - turn.late, turn.last - delay - turn.late, turn.by)
            for turn in stretch.turns
        ]
        if stretch.kind != "counted":
            at, frames = stretch.first - delay, stretch.last - stretch.first
            self._disturbances.append(Disturbance(at_frame=at, frames=frames, kind=stretch.kind))


def _between(first: int, last: int, by: int) -> Slip:
    half = -(-(last - first) // 2)
    return Slip(at_frame=first + half, within_frames=half, frames=by)


def _touch(one: Slip, other: Slip) -> bool:
    return other.at_frame - one.at_frame <= one.within_frames + other.within_frames


def told(readings: Sequence[Reading], slips: Slips, *, gain: float, unsure: float) -> Alignment:
    """Return what one or more readings say.

    Parameters
    ----------
    readings
        The delay of single blocks, slips taken out.
    slips
        What was taken out, and what was not as it should be.
    gain
        Of the copy, linear, its sign included.
    unsure
        Standard deviation, frames, of what all delays have in common.

    Returns
    -------
    Alignment
        With a delay.
    """
    line = Line.through(readings)
    apart = ninety_five(line.slope_error)
    known = apart < _TELLING
    return Alignment(
        delay_frames=line.start,
        plus_minus_frames=ninety_five(math.hypot(line.start_error, EXACT, unsure)),
        polarity="inverted" if gain < 0.0 else "normal",
        confidence=1.0,
        drift_ppm=line.slope * 1e6 if known else None,
        drift_plus_minus_ppm=apart * 1e6 if known else None,
        gain_db=db_from_ratio(abs(gain)),
        slips=slips.told,
        disturbances=slips.disturbances,
        places=places(readings, slips=slips.told, scatter=line.scatter),
    )
