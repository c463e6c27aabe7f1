"""The sources of a cue: where backing track and count-in play in the roll of a pass.

None of them says `reaches_send`: the engine refuses the send to whatever does not.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from audio.grid.count_in import CountIn
from audio.jobs.deck import Deck
from audio.vocab.errors import SecondpassError
from audio.vocab.messages import Source
from audio.vocab.requests import MakeCountIn
from audio.vocab.results import AudioFacts
from audio.vocab.wiring import Cue, Wiring
from audio.work.client import Worker


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What a pass plays of a DI, in the DI's frames."""

    time_reference: int
    """The DI's time stamp: the recorder's frame at which its first frame lies."""
    from_frame: int = 0
    frames: int
    music_frame: int = 0
    """Where what matters begins: a section behind its lead-in, else the first frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedCue:
    """The cue of one pass as it will play; nothing sounds of it yet."""

    lead_in_frames: int
    """Roll frame at which the stretch's first frame leaves: behind the count-in, where one comes before."""
    stretch: Stretch
    backing: AudioFacts | None = None
    counted: CountIn | None = None
    said: tuple[str, ...] = ()
    """What people hear, and what they do not, a line each."""


def backing_place(planned: PlannedCue) -> tuple[int, int, int] | None:
    """Return where the backing track plays, or None where nothing of it lies beside the DI.

    Parameters
    ----------
    planned
        With a backing track.

    Returns
    -------
    tuple of three int, or None
        Roll frame of its first frame, which frame of its file that is, how many play. It stops with the
        DI: in the tail only the amp rings, and the microphones wait for silence.
    """
    facts, stretch = planned.backing, planned.stretch
    if facts is None:
        return None
    first = planned.lead_in_frames - stretch.from_frame  # roll frame of the DI's first frame
    begins = first + facts.time_reference - stretch.time_reference
    at, until = max(0, begins), planned.lead_in_frames + stretch.frames
    frames = min(facts.frames - (at - begins), until - at)
    return (at, at - begins, frames) if frames > 0 else None


def folded(channels: int, listen: tuple[int, ...]) -> tuple[tuple[tuple[int, float], ...], ...]:
    """Return for each channel of a backing track where it is heard.

    Parameters
    ----------
    channels
        How many it has, 1 or more.
    listen
        The listen outputs, from 1, in the wiring's order.

    Returns
    -------
    tuple of tuple of (int, float)
        (output from 0, linear gain): channel 1 on the first, 2 on the second and so on. Fewer channels
        are heard again on what is left, mono everywhere; of more channels those that share an output
        are each turned down so far that their sum cannot clip.
    """
    outs, gain = len(listen), 1.0 / -(-channels // len(listen))
    if channels >= outs:
        return tuple(((listen[one % outs] - 1, gain),) for one in range(channels))
    return tuple(
        tuple((listen[out] - 1, 1.0) for out in range(one, outs, channels))
        for one in range(channels)
    )


@contextmanager
def cue_sources(deck: Deck, planned: PlannedCue) -> Iterator[tuple[Source, ...]]:
    """Make the cue's sources; what is made for them lies on the disk until the roll has ended.

    Parameters
    ----------
    deck
        Its worker makes the count-in; its listener hears where the pass goes on without one.
    planned
        What people hear.

    Yields
    ------
    tuple of Source
        None of them may reach the send.
    """
    wiring, counted = deck.wiring, planned.counted
    sources = backing_sources(planned, wiring)
    if counted is None:
        yield sources
        return
    with tempfile.TemporaryDirectory(
        prefix="secondpass-cue-", ignore_cleanup_errors=True
    ) as scratch:
        try:
            path = Path(scratch) / "count-in.wav"
            sources += (_count_in(deck.worker, planned, counted, wiring, path),)
        except SecondpassError as error:
            deck.listener.step(f"nobody is counted in, the pass goes on without it: {error}")
        yield sources


def backing_sources(planned: PlannedCue, wiring: Wiring) -> tuple[Source, ...]:
    """Return the backing track's channels, each on its outputs; none where nothing of it plays."""
    facts, place = planned.backing, backing_place(planned)
    if facts is None or place is None or wiring.cue is None:
        return ()
    at, first, frames = place
    return tuple(
        Source(
            path=facts.path,
            channel=channel,
            at_frame=at,
            from_frame=first,
            frames=frames,
            gain_db=wiring.cue.backing_db or 0.0,
            outputs=outputs,
        )
        for channel, outputs in enumerate(folded(facts.channels, wiring.listen_outputs))
    )


def _count_in(
    worker: Worker, planned: PlannedCue, counted: CountIn, wiring: Wiring, path: Path
) -> Source:
    first = counted.frames[0]
    level = wiring.cue.count_in_dbfs if wiring.cue else Cue().count_in_dbfs
    worker.make_count_in(
        MakeCountIn(
            path=str(path),
            sample_rate=wiring.sample_rate,
            level_dbfs=level,
            frames=tuple(frame - first for frame in counted.frames),
            accents=counted.accents,
        )
    )
    return Source(
        path=str(path),
        at_frame=planned.lead_in_frames + first - planned.stretch.from_frame,
        outputs=tuple((number - 1, 1.0) for number in wiring.listen_outputs),
    )
