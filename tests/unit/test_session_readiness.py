"""What was measured of DIs: remembered a revision, measured again after any change, refused once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from di_cases import FACTS, hits, level, measures
from msgspec.structs import replace
from session_cases import recording

from audio.jobs.planning import plan_now
from audio.jobs.unready import accept_open, open_worst, refuse_unready
from audio.session import layout, readiness
from audio.session.folder import create, open_session
from audio.session.opened import Session
from audio.vocab.chain import Chains
from audio.vocab.errors import UseError
from audio.vocab.readiness import DiMeasures, EditJoint

JOINT = EditJoint(frame=96_000, kind="step", size_db=31.0, confidence=0.97)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A session of one part with one revision."""
    made = create(tmp_path / "evening", name="evening", song="low water")
    path, facts = recording(tmp_path / "hook.wav")
    return made.add_part(source=path, facts=facts)


def seen(session: Session, **other: object) -> DiMeasures:
    """Return the measures of the session's own file."""
    revision = session.part("hook")[1].revisions[-1]
    return measures(facts=replace(FACTS, file_sha256=revision.file_sha256), **other)


def remember(session: Session, found: DiMeasures) -> None:
    readiness.remember(session, session.part("hook")[1].revisions[-1], found)


def remembered(session: Session) -> DiMeasures | None:
    return readiness.remembered(session, session.part("hook")[1].revisions[-1])


def test_what_was_measured_comes_back_as_it_was(session: Session) -> None:
    assert remembered(session) is None
    found = seen(session, joints=(JOINT,))
    remember(session, found)
    assert remembered(session) == found


def test_a_record_of_another_file_channel_or_program_counts_as_none(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = seen(session)
    remember(session, replace(found, facts=replace(found.facts, file_sha256="1" * 64)))
    assert remembered(session) is None
    remember(session, replace(found, facts=replace(found.facts, channel=1)))
    assert remembered(session) is None
    remember(session, found)
    monkeypatch.setattr(readiness, "MEASURED_BY", readiness.MEASURED_BY + 1)
    assert remembered(session) is None


@pytest.mark.parametrize(
    "other",
    [
        {"hits": hits(-1.0)},
        {"hits": hits(9.0, 4.0)},
        {"hits": hits(1e9)},
        {"joints": (replace(JOINT, frame=-4),)},
        {"level": level(clipped_runs=3)},
        {"facts": replace(FACTS, sample_rate=0)},
        {"facts": replace(FACTS, frames=0)},
    ],
)
def test_a_record_of_places_that_cannot_be_counts_as_none(
    session: Session, other: dict[str, Any]
) -> None:
    sha = session.part("hook")[1].revisions[-1].file_sha256
    found = replace(seen(session), **other)
    remember(session, replace(found, facts=replace(found.facts, file_sha256=sha)))
    assert remembered(session) is None


@pytest.mark.parametrize("content", [b"", b"{}", b"not json", b'{"format": 1}'])
def test_a_damaged_record_counts_as_none_and_is_written_anew(
    session: Session, content: bytes
) -> None:
    remember(session, seen(session))
    (path,) = layout.readiness(session.folder).iterdir()
    path.write_bytes(content)
    assert remembered(session) is None
    remember(session, seen(session))
    assert remembered(session) == seen(session)


def test_a_new_revision_is_not_known_by_the_old_ones_record(
    session: Session, tmp_path: Path
) -> None:
    remember(session, seen(session))
    path, facts = recording(tmp_path / "mended.wav", b"RIFF mended")
    newer = session.add_revision("hook", source=path, facts=facts)
    assert remembered(newer) is None
    assert readiness.remembered(newer, newer.part("hook")[1].revisions[0]) is not None


# ------------------------------------------------------------------ sent as it is


def test_an_unchecked_di_is_not_held_up(session: Session) -> None:
    assert open_worst(session, "hook") == ()
    refuse_unready(session, "hook")


def test_a_di_that_is_not_ready_is_refused_until_somebody_says_to_send_it(session: Session) -> None:
    remember(session, seen(session, joints=(JOINT, replace(JOINT, frame=99_000))))
    with pytest.raises(UseError, match=r"joint at 2\.000 s, and 1 more .* --as-it-is"):
        refuse_unready(session, "hook")
    accept_open(session, "hook")
    refuse_unready(open_session(session.folder), "hook")
    assert readiness.accepted(session) == {("hook", 1): frozenset({"joint"})}


def test_what_was_accepted_does_not_cover_another_kind_nor_another_revision(
    session: Session, tmp_path: Path
) -> None:
    remember(session, seen(session, joints=(JOINT,)))
    accept_open(session, "hook")
    hard = replace(seen(session).start, step_dbfs=-20.0, click_db=24.0, fade_frames=0)
    remember(session, seen(session, joints=(JOINT,), start=hard))
    assert [one.code for one in open_worst(session, "hook")] == ["starts-hard"]
    path, facts = recording(tmp_path / "mended.wav", b"RIFF mended")
    newer = session.add_revision("hook", source=path, facts=facts)
    remember(newer, seen(newer, joints=(JOINT,)))
    assert [one.code for one in open_worst(newer, "hook")] == ["joint"]


def test_looks_and_a_part_that_is_ready_are_sent_without_a_word(session: Session) -> None:
    remember(session, seen(session, joints=(replace(JOINT, size_db=18.0),)))
    refuse_unready(session, "hook")
    accept_open(session, "hook")
    assert readiness.accepted(session) == {}


def test_lines_of_a_journal_that_nobody_wrote_so_are_passed_over(session: Session) -> None:
    with layout.journal(session.folder).open("a") as file:
        file.write('{"at": "x", "event": "findings accepted", "part": 3}\n')
        file.write('{"at": "x", "event": "findings accepted", "part": "hook", "revision": 1}\n')
        file.write(
            '{"at": "x", "event": "findings accepted", "part": "hook", "revision": 1, "codes": [1, "dc"]}\n'
        )
    assert readiness.accepted(session) == {("hook", 1): frozenset({"dc"})}


def test_what_a_file_is_is_known_from_its_record_and_read_anew_once_it_is_written_anew(
    session: Session,
) -> None:
    revision = session.part("hook")[1].revisions[-1]
    assert readiness.remembered_facts(session, revision) is None
    remember(session, seen(session))
    facts = readiness.remembered_facts(session, revision)
    assert facts == seen(session).facts
    remember(session, measures(facts=FACTS))  # of another file
    assert readiness.remembered_facts(session, revision) is None


def test_a_section_outside_a_di_that_was_checked_is_told_in_the_plan(session: Session) -> None:
    layout.plan_yaml(session.folder).write_text(
        "passes:\n  - {part: hook, chain: crunch, seconds: 8-9}\n"
        "  - {part: hook, chain: crunch, seconds: 20-21}\n"
    )
    lines = plan_now(session, chains=Chains(found=(), problems=()), variants=(), opinions=()).lines
    assert {one.state for one in lines} == {"to do"}
    remember(session, seen(session))  # 10 s long
    lines = plan_now(session, chains=Chains(found=(), problems=()), variants=(), opinions=()).lines
    assert [one.state for one in lines] == ["to do", "cannot"]
    assert "the DI is 10.00 s (0:10) long" in lines[1].why
