"""A phrase sent again and again, and what comes back: one roll, one frame counter, whole cycles of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from audio.jobs import rolls
from audio.jobs.clicks import Click, ceiling_for, find_click, quiet_under
from audio.jobs.deck import StoppedError
from audio.jobs.setting.ground import Ground
from audio.verdict.words import CHECK_AMP
from audio.vocab.errors import UseError
from audio.vocab.messages import Capture, Source, Span
from audio.vocab.names import slug
from audio.vocab.wiring import Wiring

LEAD_IN_S = 0.25
"""Silence before the phrase."""

AFTER_S = 1.5
"""How long after it came back a frame can be read: a growing file's header follows once a second."""

LONGEST_S = 1800.0
"""Half an hour of turning knobs: then the sound stops by itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A phrase as it is sent."""

    file: Path
    """The phrase by itself, faded at its ends."""
    frames: int
    rest_frames: int
    """Silence behind it before it comes again."""
    trim_db: float
    loudest_dbfs: float
    """Largest RMS of any 50 ms, before the trim."""
    peak_dbfs: float
    """Before the trim."""

    @property
    def cycle_frames(self) -> int:
        """After so many frames it comes again."""
        return self.frames + self.rest_frames


@dataclass(frozen=True, slots=True, kw_only=True)
class Playing:
    """A phrase that is about to be sent: where it will lie in its captures."""

    sent: Sent
    click: Click
    lead_in_frames: int
    shift_frames: int
    captures: dict[int, Path]
    """By interface input, from 1: the returns', and the witness' where there is one."""

    def cycle_at(self, number: int) -> int:
        """Return the frame of the captures at which a cycle begins, the first being 0."""
        return number * self.sent.cycle_frames

    def cycles_in(self, frames: int) -> int:
        """Return how many whole cycles captures of so many frames hold."""
        return max(frames, 0) // self.sent.cycle_frames


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What was recorded of a phrase."""

    cycles: int
    """Whole ones."""
    audio_sha256: dict[int, str]
    """By interface input, from 1."""


def open_phrase(ground: Ground, sent: Sent, folder: Path) -> Playing:
    """Send the opening click, and say where everything will lie.

    `UseError` if the click is not heard on the reference return: what is recorded would lie nowhere.

    Parameters
    ----------
    ground
        Where to send it.
    sent
        What will be sent; the click stays under its peak.
    folder
        Where the captures go.

    Returns
    -------
    Playing
        Nothing of it has sounded yet.
    """
    deck = ground.deck
    ceiling = ceiling_for(deck, di_peak_dbfs=sent.peak_dbfs + sent.trim_db)
    click = find_click(deck, ceiling_dbfs=ceiling)
    delay = click.heard.reference.delay_frames
    if delay is None:
        raise UseError(
            f"the test click is not heard on {deck.wiring.reference}; measure the delay step first"
        )
    return Playing(
        sent=sent,
        click=click,
        lead_in_frames=round(LEAD_IN_S * deck.opened.sample_rate),
        shift_frames=round(delay),
        captures={n: folder / f"{n}-{slug(name)}.wav" for n, name in _inputs(deck.wiring)},
    )


def play(
    ground: Ground, playing: Playing, *, cycles: int | None, meanwhile: Callable[[int], None]
) -> Played:
    """Send the phrase so many times; None: until somebody says that it is enough.

    Parameters
    ----------
    ground
        Where to send it.
    playing
        The phrase, opened.
    cycles
        How often; None until the listener asks to stop.
    meanwhile
        Called many times a second, beside the roll, with the number of frames of the captures that are on
        disk.

    Returns
    -------
    Played
        At least one whole cycle.

    Raises
    ------
    StoppedError
        If it was stopped before one was whole.
    DeviceError
        If the device went away or the disk failed.
    """
    deck, rate = ground.deck, ground.deck.opened.sample_rate
    after = playing.lead_in_frames + playing.shift_frames
    wanted = cycles * playing.sent.cycle_frames if cycles else round(LONGEST_S * rate)

    def look() -> None:
        status = deck.status()
        if status is not None:
            meanwhile(status.roll_frame - after - round(AFTER_S * rate))

    ended = deck.play(
        what="set",
        length_frames=after + wanted,
        lead_in_frames=playing.lead_in_frames,
        shift_frames=playing.shift_frames,
        sources=(_source(ground, playing),),
        captures=_captures(deck.wiring, playing),
        loop=Span(
            start=playing.lead_in_frames,
            end=playing.lead_in_frames + playing.sent.cycle_frames,
        ),
        dead=rolls.dead_amp(
            deck.wiring,
            quiet_under(deck.wiring, playing.click.idle_dbfs),
            loudest_dbfs=playing.sent.loudest_dbfs + playing.sent.trim_db,
        ),
        meanwhile=look,
    )
    rolls.refuse_broken(ended, fault=deck.fault, what="the phrase")
    if ended.reason == "dead":
        raise UseError(f"no microphone answered the phrase, and it was stopped. {CHECK_AMP}")
    if ended.dropouts:
        raise UseError("frames were lost while the phrase played; measure it again")
    whole = playing.cycles_in(ended.frames - after)
    if not whole:
        raise StoppedError
    return Played(
        cycles=whole,
        audio_sha256={
            number: one.audio_sha256
            for number, one in zip(playing.captures, ended.recorded, strict=True)
        },
    )


def _source(ground: Ground, playing: Playing) -> Source:
    return Source(
        path=str(playing.sent.file),
        at_frame=playing.lead_in_frames,
        gain_db=playing.sent.trim_db,
        outputs=rolls.sounding_outputs(ground.deck.wiring),
        reaches_send=True,
    )


def _captures(wiring: Wiring, playing: Playing) -> tuple[Capture, ...]:
    return tuple(
        Capture(
            path=str(path),
            inputs=(number - 1,),
            from_frame=playing.lead_in_frames + playing.shift_frames,
            depth=wiring.depth,
        )
        for number, path in playing.captures.items()
    )


def _inputs(wiring: Wiring) -> list[tuple[int, str]]:
    found = [(one.input, one.name) for one in wiring.returns]
    if wiring.witness_input is not None:
        found.append((wiring.witness_input, "witness"))
    return found
