"""A stretch of a part's DI that goes round while something is set, and what the worker reads of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from audio.jobs.deck import Deck
from audio.jobs.rolls import refuse_broken, sounding_outputs
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.looped import Stretch
from audio.vocab.messages import Capture, DeadEnd, Ended, Source, Span
from audio.vocab.requests import Round
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Part

LEAD_S = 0.6
"""Silence before the sound: there the noise is heard, and 50 Hz told from 60."""

QUIET_FROM_S = 0.1
SETTLE_S = 0.5
"""From the sound's start on, until what is heard has gone round before: longer than any round trip."""

GUARD_S = 0.1
"""The end of a capture that is left out: a stop fades there, and converters are late."""

LONGEST_S = 600.0
"""A loop that nobody stops ends by itself."""

SHORTEST_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Looped:
    """One stretch on its way round."""

    source: Source
    span: Span
    round: Round
    stretch: Stretch
    rate: int

    def length_frames(self, cycles: int | None) -> int:
        """Return the frames of a roll in which so many cycles can be read; the longest where None."""
        if cycles is None:
            return round(LONGEST_S * self.rate)
        return self.round.steady_frame + cycles * self.round.cycle_frames + self.round.guard_frames


def make_looped(
    deck: Deck, session: Session, part: Part, facts: AudioFacts, *, seconds: float
) -> Looped:
    """Find the loudest stretch of a part's DI and prepare it to go round, as loud as a pass sends it.

    `UseError` if the DI is too short.

    Parameters
    ----------
    deck
        An open stream.
    session
        Where the DI lies.
    part
        The part; its newest revision is taken.
    facts
        What that is.
    seconds
        Length of the stretch.

    Returns
    -------
    Looped
        Fades in and out where it was cut, and never exceeds the DI's own peak at the part's trim.
    """
    rate, revision = facts.sample_rate, part.revisions[-1]
    path = session.path(revision.file)
    found = deck.worker.find_loudest(path, channel=revision.channel - 1, seconds=seconds)
    # A frame at either end is left out: what is cut out of a file is faded, a whole one is not.
    first = max(1, found.at_frame)
    frames = min(found.frames, facts.frames - 1 - first)
    if frames < SHORTEST_S * rate:
        raise UseError(f"{revision.file} is shorter than {SHORTEST_S:g} s: too short to go round")
    lead = round(LEAD_S * rate)
    quiet_from = round(QUIET_FROM_S * rate)
    return Looped(
        source=Source(
            path=str(path),
            channel=revision.channel - 1,
            at_frame=lead,
            from_frame=first,
            frames=frames,
            gain_db=part.trim_db,
            outputs=sounding_outputs(deck.wiring),
            reaches_send=True,
            limit_dbfs=facts.peak_dbfs + part.trim_db,
        ),
        span=Span(start=lead, end=lead + frames),
        round=Round(
            cycle_frames=frames,
            steady_frame=lead + round(SETTLE_S * rate),
            guard_frames=round(GUARD_S * rate),
            quiet_from=quiet_from,
            quiet_frames=lead - quiet_from,
        ),
        stretch=Stretch(at_frame=first, frames=frames, rms_dbfs=found.rms_dbfs),
        rate=rate,
    )


def go_round(
    deck: Deck,
    looped: Looped,
    captures: tuple[Capture, ...],
    *,
    cycles: int | None,
    look: Callable[[], None],
    dead: DeadEnd | None = None,
) -> Ended:
    """Let a stretch go round; `DeviceError` if it could not be played or recorded.

    Parameters
    ----------
    deck
        Where it plays.
    looped
        What goes round.
    captures
        What is recorded.
    cycles
        How many times; None: until the listener stops it.
    look
        Called some times a second meanwhile, beside the roll.
    dead
        When it ends because nothing answers; None where no amp is to answer.

    Returns
    -------
    Ended
        Whether it ended by itself, was stopped, or nothing answered.
    """
    ended = deck.play(
        what="set",
        length_frames=looped.length_frames(cycles),
        sources=(looped.source,),
        captures=captures,
        loop=looped.span,
        dead=dead,
        meanwhile=look,
    )
    refuse_broken(ended, fault=deck.fault, what="the stretch of the DI")
    return ended


def as_sent(path: Path, *, output_number: int) -> Capture:
    """Return the capture of what leaves by one output (from 1)."""
    return Capture(path=str(path), outputs=(output_number - 1,), depth=32)
