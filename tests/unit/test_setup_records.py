"""What a step of the set-up left: numbered, never replaced, read back whole or set apart."""

from pathlib import Path

import pytest
from session_cases import WIRING, noon, session_with_a_part
from setup_cases import REDO, outcome

from audio.session import layout
from audio.session.opened import Session
from audio.session.setups import keep, setups
from audio.vocab.setup import SetupRecord


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return session_with_a_part(tmp_path)


def kept(session: Session) -> SetupRecord:
    return keep(session, "polarity", outcome(), wiring=WIRING, clock=noon)


def test_a_session_that_was_never_set_up_has_no_records(session: Session) -> None:
    assert setups(session).found == ()


def test_records_count_over_all_steps_and_are_read_back_as_they_were_written(
    session: Session,
) -> None:
    first = kept(session)
    second = keep(session, "delay", outcome(findings=(REDO,)), wiring=WIRING, clock=noon)
    assert (first.number, second.number) == (1, 2)
    assert second.verdict == "redo"
    assert setups(session).found == (first, second)


def test_a_record_of_a_part_holds_its_trim_and_revision(session: Session) -> None:
    part = session.part("rhythm-left")[1]
    one = keep(session, "send level", outcome(), wiring=WIRING, part=part, clock=noon)
    assert (one.part, one.revision, one.trim_db) == ("rhythm-left", 1, 0.0)


def test_a_number_is_never_used_again_even_where_a_record_cannot_be_read(session: Session) -> None:
    kept(session)
    torn = layout.setup(session.folder) / "007-wire.json"
    torn.write_text('{"number": 7, "st')
    found = setups(session)
    assert [one.number for one in found.found] == [1]
    assert [one.folder for one in found.broken] == ["setup/007-wire.json"]
    assert "damaged" in found.broken[0].reason
    assert kept(session).number == 8


def test_a_record_of_a_newer_program_is_set_apart_with_the_way_out(session: Session) -> None:
    kept(session)
    path = next(layout.setup(session.folder).iterdir())
    path.write_text(path.read_text().replace('"format": 1', '"format": 2'))
    assert "update this one" in setups(session).broken[0].reason


def test_files_that_are_no_records_are_left_alone(session: Session) -> None:
    kept(session)
    (layout.setup(session.folder) / "notes.json").write_text("mine")
    (layout.setup(session.folder) / ".001-wire.json.tmp").write_text("")
    assert setups(session).broken == ()


def test_the_journal_says_what_was_set_up(session: Session) -> None:
    kept(session)
    assert '"event": "set up"' in layout.journal(session.folder).read_text().splitlines()[-1]
