"""What a hand-over holds: every file, its name and its place, decided before the first one is written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from msgspec.structs import replace

from audio.handover import places
from audio.jobs.handing.drafts import Chosen, Draft, Drafting
from audio.jobs.handing.starts import begun_together, without_stamp
from audio.plan.file_names import pattern_problem, told_apart
from audio.plan.keepers import keepers_of
from audio.session import records
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.vocab.errors import UseError
from audio.vocab.handover import HandoverAsked, HandoverOrder, Piece, SongStart
from audio.vocab.opinion import Opinion
from audio.vocab.variant import Broken
from audio.work.client import Worker

NO_FLAC = "lies in floats, which FLAC does not hold: there is no FLAC of it"


NO_STAMP = "has no time stamp to place it by; it goes along as it is"


def decide(
    session: Session,
    worker: Worker,
    asked: HandoverAsked,
    *,
    name: str,
    token: str,
    made_at: str,
) -> HandoverOrder:
    """Return all that is decided of a hand-over.

    Parameters
    ----------
    session
        Its keepers, or all its variants that were not discarded.
    worker
        Reads what was brought in.
    asked
        What is wanted.
    name
        The folder's.
    token
        Tells it from any other one.
    made_at
        ISO 8601.

    Returns
    -------
    HandoverOrder
        What cannot be handed over is said in it.

    Raises
    ------
    UseError
        If there is nothing to be handed over, the pattern cannot be, it names two files alike, files of a
        song cannot begin at one place, or there is no such part.
    """
    if problem := pattern_problem(asked.names):
        raise UseError(problem)
    drafting = Drafting(session, worker, asked)
    chosen = tuple(_chosen(session, asked, drafting.left))
    if not chosen:
        raise UseError(_nothing(session, asked, drafting.left))
    drafts = [one for sound in chosen for one in drafting.of_sound(sound)]
    drafts += _along(drafting, chosen)
    if not drafts:
        raise UseError(f"nothing can be handed over: {drafting.left[0]}")
    starts: tuple[SongStart, ...] = ()
    if asked.start == "song":
        drafts, starts = _together(session, drafts, drafting.left)
    pieces = _named(drafts, asked)
    if asked.flac:
        drafting.left.extend(f"{one.path} {NO_FLAC}" for one in pieces if one.depth == 32)
    return HandoverOrder(
        name=name,
        token=token,
        session=session.file.name,
        made_at=made_at,
        asked=asked,
        sounds=tuple((one.part.name, one.variant.number) for one in chosen),
        pieces=pieces,
        starts=starts,
        left_out=tuple(drafting.left),
    )


def _chosen(session: Session, asked: HandoverAsked, left: list[str]) -> Iterator[Chosen]:
    """Yield the sounds, by song, part and number."""
    wanted = {session.part(name)[1].name for name in asked.parts}
    said = opinions(session)
    for song in session.file.songs:
        for part in song.parts:
            if wanted and part.name not in wanted:
                continue
            of = {one.number: one for one in said if one.part == part.name}
            kept = keepers_of(said, part.name)
            read = records.variants(session, part.name)
            left += [
                session.inside(one.reason)
                for one in read.broken
                if asked.everything or _number(one) in kept
            ]
            for variant in read.found:
                opinion = of.get(variant.number, Opinion(part=part.name, number=variant.number))
                opinion = opinion.held_to([one.return_name for one in variant.files])
                if not opinion.discarded if asked.everything else variant.number in kept:
                    yield Chosen(song, part, variant, opinion)


def _number(one: Broken) -> int:
    return int(one.folder.rpartition("/")[2])


def _nothing(session: Session, asked: HandoverAsked, left: Sequence[str]) -> str:
    where = f" of {' and '.join(asked.parts)}" if asked.parts else ""
    if left:
        return f"{session.folder}: nothing{where} can be handed over: {left[0]}"
    if asked.everything:
        return f"{session.folder}: there is no variant{where} to be handed over; run a pass first"
    return (
        f"{session.folder}: no variant{where} was kept yet; keep one (! at the variants, or `secondpass"
        " note --keep`), or hand over everything (--all)"
    )


def _along(drafting: Drafting, chosen: Sequence[Chosen]) -> Iterator[Draft]:
    """Yield DIs, originals and backing tracks of what is handed over, each once."""
    also = drafting.asked.also
    for sound in {one.part.name: one for one in chosen}.values():
        if "di" in also:
            used = {one.variant.revision for one in chosen if one.part.name == sound.part.name}
            yield from drafting.dis(sound, sorted(used))
        if "originals" in also:
            yield from drafting.originals(sound)
    if "backing" in also:
        for song in {one.song.name: one.song for one in chosen}.values():
            yield from drafting.backing(song)


def _together(
    session: Session, drafts: Sequence[Draft], left: list[str]
) -> tuple[list[Draft], tuple[SongStart, ...]]:
    """Return the files as they are when all of a song begin at one place; what has no place is said."""
    starts, unplaced = [], set()
    for song in session.file.songs:
        pieces = [one.piece for one in drafts if one.piece.song == song.name]
        if not pieces:
            continue
        lost = without_stamp(pieces)
        left += [f"{one.sources[0].file} {NO_STAMP}" for one in lost]
        unplaced |= {id(one) for one in lost}
        starts.append(begun_together(song, [one for one in pieces if id(one) not in unplaced]))
    by_song = {one.song: one for one in starts}
    begun = [
        one if id(one.piece) in unplaced else _begun(one, by_song[one.piece.song]) for one in drafts
    ]
    return begun, tuple(starts)


def _begun(draft: Draft, start: SongStart) -> Draft:
    piece = draft.piece
    at = round(start.at_s * piece.sample_rate)
    if at == piece.time_reference:
        return draft
    frames = piece.frames + piece.time_reference - at
    depth: Literal[24, 32] = 32 if piece.depth == 32 else 24
    piece = replace(piece, copied=False, time_reference=at, frames=frames, depth=depth)
    return Draft(draft.name, ".wav", piece)


def _named(drafts: Sequence[Draft], asked: HandoverAsked) -> tuple[Piece, ...]:
    names = told_apart((one.name for one in drafts), pattern=asked.names)
    found = []
    for draft, name in zip(drafts, names, strict=True):
        stem = f"{places.SOUNDS}/{name}"
        compressed = asked.flac and draft.suffix != ".flac" and draft.piece.depth != 32
        flac = f"{stem}.flac" if compressed else ""
        found.append(replace(draft.piece, path=f"{stem}{draft.suffix}", flac=flac))
    return tuple(found)
