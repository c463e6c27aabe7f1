"""What one test click brought back on every input, and the plain questions one asks of it."""

from __future__ import annotations

import math

import msgspec

from audio.verdict.thresholds import FEEDBACK_MATCH_MS, SHARP_FRAMES, SPREAD_MOVING_FRAMES
from audio.vocab.results import ClickReading
from audio.vocab.units import ms_from_frames
from audio.vocab.wiring import Return, Wiring


class Heard(msgspec.Struct, frozen=True, kw_only=True):
    """One click train, heard on every input that was captured."""

    wiring: Wiring
    readings: dict[int, ClickReading]
    """By interface input, from 1; holds every return, the witness where there is one, and may hold
    inputs that the wiring does not use."""
    level_dbfs: float
    """Peak of the clicks as they were sent."""
    ceiling_dbfs: float
    """Peak the clicks may not exceed in this pass; at most the wiring's ceiling."""

    def of(self, one: Return) -> ClickReading:
        """Return the reading of a return."""
        return self.readings[one.input]

    @property
    def reference(self) -> ClickReading:
        """The reading of the reference return."""
        return self.of(self.wiring.reference_return)

    @property
    def witness(self) -> ClickReading | None:
        """The reading of the witness; None when the wiring has none or it was not captured."""
        wired = self.wiring.witness_input
        return None if wired is None else self.readings.get(wired)

    @property
    def loop(self) -> ClickReading | None:
        """The reading of the loop; None when the wiring has none or it was not captured."""
        wired = self.wiring.loop
        return None if wired is None else self.readings.get(wired.input)

    @property
    def strays(self) -> tuple[int, ...]:
        """Inputs the wiring does not name that heard the click, from 1, in order."""
        named = {r.input for r in self.wiring.returns} | {self.wiring.witness_input}
        named |= {self.wiring.loop.input} if self.wiring.loop else set()
        return tuple(i for i, r in sorted(self.readings.items()) if i not in named and is_placed(r))


def is_placed(reading: ClickReading) -> bool:
    """Return whether the click was found and has a delay."""
    return reading.delay_frames is not None


def answered(reading: ClickReading) -> bool:
    """Return whether anything of the click arrived, be it clipped or contradictory."""
    return is_placed(reading) or reading.reason in {"clipped", "unclear"}


def moves(reading: ClickReading) -> bool:
    """Return whether the single clicks scatter as through a modulation."""
    scatter = reading.spread_frames is not None and reading.spread_frames > SPREAD_MOVING_FRAMES
    return scatter or reading.reason == "unclear"


def is_sharp(reading: ClickReading) -> bool:
    """Return whether the reading, against another of the same path, can tell one frame from none."""
    known = is_placed(reading) and reading.peak_plus_minus_frames is not None
    return known and (reading.peak_plus_minus_frames or 0.0) <= SHARP_FRAMES and not moves(reading)


def combined(a: float | None, b: float | None) -> float:
    """Return the half width of the 95 % interval of the difference of two independent figures.

    The variances of independent errors add (Gauss), so the half widths add in squares; a half width
    that is not known counts as 0.
    """
    return math.hypot(a or 0.0, b or 0.0)


def is_fed_back(heard: Heard) -> bool:
    """Return whether the click came round again because a return reaches the send.

    Nothing on the send repeats by itself: a repeat in the witness within the longest round trip is
    feedback. On a return only one at the round trip itself is, for a chain may repeat at any other.
    """
    returns = [heard.of(r) for r in heard.wiring.returns]
    longest = max((r.delay_frames or 0.0 for r in returns), default=0.0)
    again = heard.witness.repeats_frames if heard.witness is not None else None
    if again is not None and again <= longest:
        return True
    return any(_repeats_at_round_trip(heard, r) for r in returns)


def repeats_early(heard: Heard) -> float | None:
    """Return the milliseconds after which a return repeats sooner than the round trip, None if none does.

    Direct monitoring inside an interface goes round without the computer's buffers, so its repeat
    comes sooner than the round trip; so may that of an echo or a reverb.
    """
    early = [
        r.repeats_frames
        for r in map(heard.of, heard.wiring.returns)
        if r.repeats_frames is not None and r.repeats_frames < (r.delay_frames or 0.0)
    ]
    return ms_from_frames(early[0], rate=heard.wiring.sample_rate) if early else None


def _repeats_at_round_trip(heard: Heard, reading: ClickReading) -> bool:
    if reading.delay_frames is None or reading.repeats_frames is None:
        return False
    apart = abs(reading.repeats_frames - reading.delay_frames)
    return ms_from_frames(apart, rate=heard.wiring.sample_rate) <= FEEDBACK_MATCH_MS
