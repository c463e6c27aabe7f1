"""What a sound is held against: one that was kept, an old variant, or the original."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from audio.jobs.dis import read_di
from audio.jobs.setting.ground import Ground
from audio.jobs.setting.phrase import Sent
from audio.session.layout import pass_folder
from audio.session.records import read_variant
from audio.session.sounds import sound_named, sounds
from audio.vocab.errors import UseError
from audio.vocab.likeness import Recorded
from audio.vocab.names import twin_key
from audio.vocab.session_file import Part
from audio.vocab.sounds import Sound, TakenFile

PHRASE_S = 15.0
"""How much of a DI a sound is told by."""

REST_S = 1.5
"""Silence behind a phrase: what rings dies away, and half a second of noise is left to be heard."""

ORIGINAL = "original"


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """What was recorded of one input then."""

    kept: Recorded
    again: Recorded | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Then:
    """The sound as it was."""

    name: str
    made_at: str
    """Local time with offset, ISO 8601; empty where nobody knows."""
    sent: Sent
    """What is sent to be held against it."""
    frames: int
    """How much of it is compared."""
    returns: dict[str, Take]
    """By the return's name."""
    witness: Take | None = None
    cable_less_shift: float | None = None
    """Round trip through the loop cable less the whole frames that were removed; None without a cable."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A phrase of a part's newest DI, as a file of its own."""

    part: Part
    from_frame: int
    sent: Sent


def cut(ground: Ground, part_name: str, *, from_s: float | None, to: Path) -> Cut:
    """Cut a phrase out of a part's newest DI; `UseError` if it does not lie there or cannot be played."""
    deck, (_, part) = ground.deck, ground.session.part(part_name)
    facts = read_di(deck.worker, ground.session, part, deck.wiring)
    revision, rate = part.revisions[-1], facts.sample_rate
    di, channel = ground.session.path(revision.file), revision.channel - 1
    frames = min(round(PHRASE_S * rate), facts.frames)
    first = (
        deck.worker.find_loudest(di, channel=channel, seconds=frames / rate).at_frame
        if from_s is None
        else round(from_s * rate)
    )
    first = min(first, facts.frames - frames) if from_s is None else first
    made = deck.worker.cut_phrase(di, channel=channel, from_frame=first, frames=frames, to=to)
    sent = Sent(
        file=to,
        frames=frames,
        rest_frames=round(REST_S * rate),
        trim_db=part.trim_db,
        loudest_dbfs=made.loudest_dbfs,
        peak_dbfs=made.peak_dbfs,
    )
    return Cut(part=part, from_frame=first, sent=sent)


def then(ground: Ground, name: str, scratch: Path) -> Then:
    """Find what a name stands for.

    Parameters
    ----------
    ground
        Its session is looked through.
    name
        A sound that was kept; else a part and a pass, ``hook 003``; else ``original hook``.
    scratch
        Where a phrase may be cut to.

    Returns
    -------
    Then
        Ready to be held against what comes back now.

    Raises
    ------
    UseError
        If it stands for nothing, or for what cannot be compared here.
    """
    if any(twin_key(one.name) == twin_key(name) for one in sounds(ground.session).found):
        return _of_sound(ground, sound_named(ground.session, name))
    first, _, rest = name.strip().partition(" ")
    if first == ORIGINAL and rest:
        return _of_original(ground, rest, scratch)
    part, _, number = name.strip().rpartition(" ")
    if part and number.isascii() and number.isdigit():
        return _of_variant(ground, part, int(number), scratch)
    return _of_sound(ground, sound_named(ground.session, name))


def _of_sound(ground: Ground, sound: Sound) -> Then:
    if sound.wiring.sample_rate != ground.deck.opened.sample_rate:
        raise UseError(
            f"{sound.name} was kept at {sound.wiring.sample_rate} Hz and the stream runs at"
            f" {ground.deck.opened.sample_rate} Hz; set sample_rate in the wiring"
        )
    phrase = sound.phrase
    file = ground.session.path(phrase.file)
    facts = ground.deck.worker.inspect(file)

    def take(one: TakenFile) -> Take:
        path = str(ground.session.path(one.path))
        return Take(
            kept=Recorded(path=path, at_frame=sound.kept_at),
            again=Recorded(path=path, at_frame=sound.again_at),
        )

    cable = sound.cable_frames
    return Then(
        name=sound.name,
        made_at=sound.made_at,
        sent=Sent(
            file=file,
            frames=phrase.frames,
            rest_frames=phrase.rest_frames,
            trim_db=phrase.trim_db,
            loudest_dbfs=phrase.loudest_dbfs,
            peak_dbfs=facts.peak_dbfs,
        ),
        frames=phrase.cycle_frames,
        returns={one.name: take(one) for one in sound.files},
        witness=take(sound.witness) if sound.witness else None,
        cable_less_shift=None if cable is None else cable - sound.shift_frames,
    )


def _of_variant(ground: Ground, part: str, number: int, scratch: Path) -> Then:
    session = ground.session
    name = session.part(part)[1].name
    variant = read_variant(pass_folder(session.folder, name, number))
    if variant.covers is not None:
        raise UseError(
            f"{name} {number:03d} holds a section ({variant.covers.text}), which may not have the loudest"
            " of the part in it; name a variant of the whole part"
        )
    found = cut(ground, name, from_s=None, to=scratch / "phrase.wav")
    if variant.revision != len(found.part.revisions):
        raise UseError(
            f"{name} {number:03d} was made of revision {variant.revision} and the newest is"
            f" {len(found.part.revisions)}: notes lie elsewhere, the two cannot be compared"
        )
    loop = variant.loop.delay_frames if variant.loop is not None else None
    return Then(
        name=f"{name} {number:03d}",
        made_at=variant.made_at,
        sent=found.sent,
        frames=found.sent.frames,
        returns={
            one.return_name: Take(
                kept=Recorded(path=str(session.path(one.path)), at_frame=found.from_frame)
            )
            for one in variant.files
        },
        cable_less_shift=loop,
    )


def _of_original(ground: Ground, part: str, scratch: Path) -> Then:
    session, worker = ground.session, ground.deck.worker
    found = cut(ground, part, from_s=None, to=scratch / "phrase.wav")
    if not found.part.originals:
        raise UseError(
            f"{found.part.name} has no original; add it: secondpass add {session.folder} --original FILE"
            f" --part {found.part.name}"
        )
    names = [one.name for one in ground.deck.wiring.returns]
    returns: dict[str, Take] = {}
    revision = found.part.revisions[-1]
    for one in found.part.originals:
        lies = worker.compare(
            session.path(revision.file),
            session.path(one.file),
            di_channel=revision.channel - 1,
            channel=one.channel - 1,
        ).alignment
        if lies.delay_frames is None:
            raise UseError(f"{one.file}: {lies.reason}")
        at = found.from_frame + round(lies.delay_frames)
        path = str(session.path(one.file))
        name = one.name if one.name in names else ground.deck.wiring.reference
        returns.setdefault(
            name, Take(kept=Recorded(path=path, channel=one.channel - 1, at_frame=at))
        )
    return Then(
        name=f"{ORIGINAL} {found.part.name}",
        made_at="",
        sent=found.sent,
        frames=found.sent.frames,
        returns=returns,
    )
