"""What a pass stands on, found out before its number is claimed: part, DI, original, disk space."""

from __future__ import annotations

import math
from dataclasses import dataclass

from audio.files.platform import free_bytes
from audio.jobs.cue_sources import PlannedCue
from audio.jobs.deck import Deck
from audio.jobs.dis import read_di
from audio.jobs.originals import Lies, original_lies
from audio.jobs.placing import Known, check_align_to
from audio.jobs.sections import covered
from audio.jobs.tempos import part_bpm, song_tempo
from audio.jobs.unready import refuse_unready
from audio.plan.setup import StepStatus
from audio.session.opened import Session
from audio.session.passes import Claim
from audio.verdict.clicks import Placement
from audio.vocab.errors import UseError
from audio.vocab.names import chain_problem
from audio.vocab.results import AudioFacts
from audio.vocab.section import Covers, Section
from audio.vocab.session_file import Part, Song
from audio.vocab.wiring import Wiring

SPARE_BYTES = 64 << 20
"""Disk space that must be left when the longest possible pass is written; common practice, no source."""


LOUDEST_S = 0.05
"""What counts as how loud a DI is: the loudest so many seconds, as `AudioFacts` has it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What a pass stands on; nothing of it changes while the pass runs."""

    deck: Deck
    session: Session
    song: Song
    part: Part
    facts: AudioFacts
    covers: Covers | None
    """The section that is played; None is the whole DI."""
    loudest_dbfs: float
    """Largest RMS of any 50 ms of what is played."""
    original: Lies | None
    """Where the original lies, where returns shall lie there, too."""
    chain: str
    patched: Placement | None
    """The converters' own delay, where a patched cable proved it."""
    steps: tuple[StepStatus, ...]
    """The settings as they stand."""
    cue: PlannedCue
    """What people hear meanwhile."""
    claim: Claim


def bpm_of(ground: Ground) -> float | None:
    """Return the tempo by which echoes are told, quarter notes a minute; None where there is none."""
    facts, covers = ground.facts, ground.covers
    return part_bpm(
        ground.song,
        song_tempo(ground.session, ground.song),
        time_reference=facts.time_reference,
        frame=covers.section_from_frame if covers else 0,
        rate=facts.sample_rate,
    )


def asked_for(session: Session, part: str, chain: str) -> tuple[Song, Part]:
    """Return the part a pass is asked for, and its song.

    `UseError` if there is no such part, the chain's name cannot be, or the part's DI was found not ready
    and nobody has said to send it as it is.
    """
    if problem := chain_problem(chain):
        raise UseError(problem)
    found = session.part(part)
    refuse_unready(session, found[1].name)
    return found


def ready(deck: Deck, session: Session, part: Part, *, patched: Placement | None) -> AudioFacts:
    """Read the DI through: it must be the file that was added, fit the wiring, and leave disk space."""
    wiring = deck.wiring
    check_align_to(wiring, patched=patched)
    facts = read_di(deck.worker, session, part, wiring)
    _check_space(session, wiring, facts)
    return facts


def stretch_of(
    deck: Deck,
    session: Session,
    part: Part,
    facts: AudioFacts,
    *,
    song: Song,
    section: Section | None,
) -> tuple[Covers | None, float]:
    """Return what is played, and its loudest 50 ms, dBFS; `UseError` if there is no such section."""
    if section is None:
        return None, facts.loudest_dbfs
    covers = covered(
        section,
        song,
        tempo=song_tempo(session, song),
        time_reference=facts.time_reference,
        frames=facts.frames,
        rate=facts.sample_rate,
    )
    revision = part.revisions[-1]
    loudest = deck.worker.find_loudest(
        session.path(revision.file),
        channel=revision.channel - 1,
        seconds=LOUDEST_S,
        from_frame=covers.from_frame,
        frames=covers.frames,
    )
    return covers, loudest.rms_dbfs


def original_of(
    deck: Deck, session: Session, part: Part, facts: AudioFacts, known: Known
) -> Lies | None:
    """Return where the part's original lies; measured once in a stream, it takes seconds."""
    if deck.wiring.align_to != "original":
        return None
    files = (facts.file_sha256, *(one.file_sha256 for one in part.originals))
    if files not in known.originals:
        known.originals[files] = original_lies(deck.worker, session, part, facts, deck.wiring)
    return known.originals[files]


def _check_space(session: Session, wiring: Wiring, facts: AudioFacts) -> None:
    files = len(wiring.returns) + bool(wiring.witness_input) + bool(wiring.loop)
    longest = facts.frames + math.ceil((wiring.tail_s + 2.0) * wiring.sample_rate)
    needed = files * longest * wiring.depth // 8 + SPARE_BYTES
    free = free_bytes(session.folder)
    if free < needed:
        raise UseError(
            f"the disk of {session.folder} has {free >> 20} MB left and this pass may need"
            f" {needed >> 20} MB; make room first"
        )
