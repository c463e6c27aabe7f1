"""Sounds that are kept: a name is given once, what a crash left is passed over, nothing is replaced."""

from pathlib import Path

import msgspec
import pytest
from session_cases import NOON, session_with_a_part
from setup_cases import PHRASE, sound

from audio.session import layout
from audio.session.opened import Session
from audio.session.sounds import claim_sound, sound_named, sounds, write_sound
from audio.vocab.errors import UseError


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return session_with_a_part(tmp_path)


def kept(session: Session, name: str, made_at: str = NOON) -> Path:
    folder = claim_sound(session, name)
    write_sound(session, folder, sound(name, made_at))
    return folder


def test_a_cycle_is_the_phrase_and_the_rest_behind_it() -> None:
    assert PHRASE.cycle_frames == 72_000


def test_a_sound_is_read_back_as_it_was_written_and_found_by_its_name(session: Session) -> None:
    kept(session, "The Lead")
    assert sounds(session).found == (sound("The Lead"),)
    assert sound_named(session, "the lead").name == "The Lead"


def test_sounds_come_in_the_order_in_which_they_were_kept(session: Session) -> None:
    kept(session, "a late one", "2026-11-25T13:00:00+01:00")
    kept(session, "zero")
    assert [one.name for one in sounds(session).found] == ["zero", "a late one"]


def test_a_name_is_given_once_whatever_its_capitals(session: Session) -> None:
    kept(session, "The Lead")
    with pytest.raises(UseError, match="kept already"):
        claim_sound(session, "the LEAD")


def test_names_that_make_one_folder_get_two(session: Session) -> None:
    assert kept(session, "lead!") != kept(session, "lead?")
    assert len(sounds(session).found) == 2


@pytest.mark.parametrize("name", ["", "   ", "a\x1bb", "x" * 81])
def test_a_name_that_cannot_be_is_refused_and_makes_no_folder(session: Session, name: str) -> None:
    with pytest.raises(UseError, match="the sound"):
        claim_sound(session, name)
    assert not layout.sounds(session.folder).exists()


def test_what_was_cut_off_while_it_was_kept_is_no_sound_and_its_name_is_free(
    session: Session,
) -> None:
    left = claim_sound(session, "the lead")
    (left / "2-close.wav").write_bytes(b"RIFF")
    assert sounds(session).found == ()
    folder = kept(session, "the lead")
    assert folder != left
    assert (left / "2-close.wav").read_bytes() == b"RIFF"


def test_a_damaged_one_stands_apart(session: Session) -> None:
    folder = kept(session, "the lead")
    layout.sound_json(folder).write_bytes(msgspec.json.encode({"format": 1}))
    found = sounds(session)
    assert (found.found, [one.folder for one in found.broken]) == ((), ["sounds/the-lead"])


def test_a_name_that_is_not_there_is_refused_with_those_that_are(session: Session) -> None:
    with pytest.raises(UseError, match="none is kept yet"):
        sound_named(session, "lead")
    kept(session, "crunch")
    with pytest.raises(UseError, match="kept are: crunch"):
        sound_named(session, "lead")
