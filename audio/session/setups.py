"""The session's ``setup`` folder: one JSON file for each step that was measured, written once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec

from audio.files.platform import is_taken
from audio.files.text import write_new
from audio.session import journal, layout
from audio.session.disk import local_now, said_plainly
from audio.session.formatted import content, decoded, pretty, refuse_untrue, time_problem
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.findings import worst
from audio.vocab.names import slug
from audio.vocab.session_file import Part
from audio.vocab.setup import Outcome, SetupRecord
from audio.vocab.step_names import StepName
from audio.vocab.variant import Broken
from audio.vocab.wiring import Wiring


class Setups(msgspec.Struct, frozen=True, kw_only=True):
    """What a session was set up with."""

    found: tuple[SetupRecord, ...]
    """Oldest first."""
    broken: tuple[Broken, ...]


def keep(
    session: Session,
    step: StepName,
    outcome: Outcome,
    *,
    wiring: Wiring,
    part: Part | None = None,
    chain: str = "",
    clock: Callable[[], str] = local_now,
) -> SetupRecord:
    """Write what a step found as the session's next record; `UseError` if the disk refuses.

    Parameters
    ----------
    session
        Where it goes; the caller holds its lock.
    step
        Which step it was.
    outcome
        What it found.
    wiring
        As it was.
    part
        The part it belongs to, as it was; None where it belongs to the wiring alone.
    chain
        What was plugged in.
    clock
        Gives the time.

    Returns
    -------
    SetupRecord
        With its number.
    """
    folder = layout.setup(session.folder)
    with said_plainly(folder, doing="written"):
        folder.mkdir(exist_ok=True)
    record = SetupRecord(
        number=1 + max((_number(path) for path in _files(folder)), default=0),
        step=step,
        made_at=clock(),
        wiring=wiring,
        part=part.name if part else None,
        revision=len(part.revisions) if part else None,
        trim_db=part.trim_db if part else None,
        chain=chain,
        verdict=worst(outcome.findings),
        outcome=outcome,
    )
    path = folder / f"{record.number:03d}-{slug(step)}.json"
    with said_plainly(path, doing="written"):
        write_new(path, pretty(record))
    journal.append(session.folder, "set up", step=step, number=record.number, clock=clock)
    return record


def setups(session: Session) -> Setups:
    """Return every record of a session; those that cannot be read stand apart."""
    found, broken = [], []
    for path in _files(layout.setup(session.folder)):
        try:
            found.append(read_record(path))
        except UseError as error:
            name = path.relative_to(session.folder).as_posix()
            broken.append(Broken(folder=name, reason=str(error)))
    return Setups(
        found=tuple(sorted(found, key=lambda record: record.number)), broken=tuple(broken)
    )


def read_record(path: Path) -> SetupRecord:
    """Return one record; `UseError` if the file cannot be read or is none."""
    record = decoded(content(path), path, SetupRecord)
    refuse_untrue(path, time_problem(record.made_at))
    return record


def _files(folder: Path) -> list[Path]:
    if not is_taken(folder):
        return []
    with said_plainly(folder, doing="read"):
        return sorted(path for path in folder.glob("*.json") if _number(path))


def _number(path: Path) -> int:
    digits = path.name.partition("-")[0]
    return int(digits) if digits.isascii() and digits.isdigit() else 0
