"""What was measured of DIs, remembered a revision a file, and which findings somebody accepted.

A record is a memory, no evidence: the same file measured by the same program gives the same again. One that
is damaged, of another file or another program counts as none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path, PurePosixPath

import msgspec

from audio.files.platform import is_taken
from audio.files.text import write_atomic
from audio.session import journal, layout
from audio.session.disk import local_now, said_plainly
from audio.session.formatted import content, decoded, pretty
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.readiness import DiMeasures
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Part, Revision
from audio.vocab.units import FASTEST_RATE

MEASURED_BY = 2
"""Goes up whenever a DI is measured in another way: what was remembered before is then measured again."""


class DiRecord(msgspec.Struct, frozen=True, kw_only=True):
    """What is remembered of one revision."""

    format: int = 1
    measured_by: int = MEASURED_BY
    made_at: str
    measures: DiMeasures


def remembered(session: Session, revision: Revision) -> DiMeasures | None:
    """Return what was measured of a revision; None where it is to be measured."""
    return read_measures(_record(session.folder, revision), revision)


def read_measures(path: Path, revision: Revision) -> DiMeasures | None:
    """Return what a record says of a revision; None where it counts as none."""
    if not is_taken(path):
        return None
    try:
        record = decoded(content(path), path, DiRecord)
    except UseError:
        return None
    facts = record.measures.facts
    same = (facts.file_sha256, facts.channel) == (revision.file_sha256, revision.channel - 1)
    mine = same and record.measured_by == MEASURED_BY and _can_be(record.measures)
    return record.measures if mine else None


def _can_be(measures: DiMeasures) -> bool:
    """Return whether the places in a record lie in its file, in order: the program writes no others."""
    facts = measures.facts
    if not 1 <= facts.sample_rate <= FASTEST_RATE or facts.frames < 1:
        return False
    frames = [one.frame for one in measures.hits]
    places = [
        *frames,
        *(one.frame for one in measures.joints),
        *(one.frame for one in measures.stops),
        *(one.frame for one in measures.between),
        *(at for one in measures.repeats for at in (one.frame, one.of_frame)),
        *(one.at_frame for one in (*measures.level.clipped, *measures.flat_tops)),
        measures.start.silence_frames,
        measures.end.silence_frames,
    ]
    inside = all(0 <= at <= facts.frames for at in places)
    counted = len(measures.level.clipped) <= max(measures.level.clipped_runs, 0)
    told = bool(measures.level.clipped) or not measures.level.clipped_runs
    return inside and counted and told and frames == sorted(frames)


def remembered_facts(session: Session, revision: Revision) -> AudioFacts | None:
    """Return what a revision's file is, as far as it was measured; a record is read once a writing."""
    path = _record(session.folder, revision)
    try:
        seen = path.stat()
    except OSError:
        return None
    facts = _facts(path, (seen.st_mtime_ns, seen.st_size, seen.st_ino))
    if facts is None or facts.file_sha256 != revision.file_sha256:
        return None
    return facts if 1 <= facts.sample_rate <= FASTEST_RATE and facts.frames > 0 else None


class _Measured(msgspec.Struct, frozen=True, kw_only=True):
    facts: AudioFacts


class _FactsOnly(msgspec.Struct, frozen=True, kw_only=True):
    format: int
    measures: _Measured


@lru_cache(maxsize=256)
def _facts(path: Path, stamp: tuple[int, int, int]) -> AudioFacts | None:  # noqa: ARG001 - tells writings apart
    try:
        return decoded(content(path), path, _FactsOnly).measures.facts
    except UseError:
        return None


def remember(
    session: Session,
    revision: Revision,
    measures: DiMeasures,
    *,
    clock: Callable[[], str] = local_now,
) -> None:
    """Keep what was measured of a revision; `UseError` if the disk refuses."""
    path = _record(session.folder, revision)
    with said_plainly(path, doing="written"):
        path.parent.mkdir(exist_ok=True)
        write_atomic(path, pretty(DiRecord(made_at=clock(), measures=measures)))


def accept(
    session: Session, part: Part, codes: Iterable[str], *, clock: Callable[[], str] = local_now
) -> None:
    """Note that somebody wants the newest revision of a part sent with these findings.

    `UseError` if the disk refuses.
    """
    journal.append(
        session.folder,
        "findings accepted",
        part=part.name,
        revision=len(part.revisions),
        codes=sorted(set(codes)),
        clock=clock,
    )


def accepted(session: Session) -> dict[tuple[str, int], frozenset[str]]:
    """Return the codes that were accepted, by part and revision; fails as `journal.told` does."""
    found: dict[tuple[str, int], frozenset[str]] = {}
    for entry in journal.told(session.folder, ("findings accepted",)):
        part, revision, codes = (entry.facts.get(key) for key in ("part", "revision", "codes"))
        if isinstance(part, str) and isinstance(revision, int) and isinstance(codes, list):
            before = found.get((part, revision), frozenset())
            found[part, revision] = before | {code for code in codes if isinstance(code, str)}
    return found


def _record(folder: Path, revision: Revision) -> Path:
    return layout.readiness(folder) / f"{PurePosixPath(revision.file).name}.json"
