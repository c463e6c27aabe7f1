"""Choices in the journal: noted once, the last word counts, and whatever broke off is completed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from choice_cases import NAME, OTHER_TOKEN, TOKEN, choice_text
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from session_cases import NOON, noon, recording, session_with_a_part, tree

from audio.session import journal
from audio.session.choices import (
    choices_read,
    counting,
    foreign_problem,
    handed_over,
    note_choice,
)
from audio.session.history import history
from audio.session.opened import Session
from audio.session.opinions import Opinions, opinion_of, opinions
from audio.vocab.choice import Choice, ChoiceText, choice_words, read_choice
from audio.vocab.choice_text import read_choices

PART = "rhythm-left"


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A session that has handed over three variants of one part."""
    one = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "close.wav")
    one = one.add_original(PART, source=source, facts=facts, name="close", clock=noon)
    hand_over(one)
    return one


def hand_over(session: Session, name: str = NAME, token: str = TOKEN) -> None:
    facts = {"name": name, "token": token, "sounds": {PART: [1, 2, 3]}}
    journal.append(session.folder, "handed over", clock=noon, **facts)


def said(*keys: str, words: str = "", **more: Any) -> ChoiceText:
    text = choice_text({PART: keys}, words={PART: words} if words else None, **more)
    (found,) = read_choices(text, {PART: ("original:close", "original:far"), "hook": ()})
    assert found.choice is not None, found.problem
    return found.choice


def choice(place: int, words: str = "", listener: str = "Ana", token: str = TOKEN) -> Choice:
    return Choice(
        listener=listener, place=place, blind=True, words=words, handover=NAME, token=token
    )


def held(session: Session) -> dict[int, tuple[Choice, ...]]:
    return {one.number: one.choices for one in opinions(session) if one.choices}


def told(session: Session, number: int) -> list[str]:
    """Return what the history says of a variant behind its being handed over."""
    texts = [one.text for one in history(session, PART, number)]
    return texts[1:] if texts[:1] == ["handed over: harbour-lights-001"] else texts


# ------------------------------------------------------------------ noted


def test_a_choice_stands_at_each_variant_and_once_as_a_whole(session: Session) -> None:
    assert note_choice(session, said("002", "original:close", "001", words="more bite"), clock=noon)
    assert held(session) == {2: (choice(1, "more bite"),), 1: (choice(3),)}
    assert told(session, 2) == ["chosen first by Ana, blind: “more bite”"]
    assert told(session, 1) == ["chosen third by Ana, blind"]
    assert journal.read(session.folder)[-1].facts == {
        "name": NAME,
        "token": TOKEN,
        "listener": "Ana",
        "blind": True,
        "chosen": {PART: ["002", "original:close", "001"]},
        "words": {PART: "more bite"},
        "checksum": said("002", "original:close", "001", words="more bite").checksum,
    }


def test_nothing_becomes_a_keeper_by_being_chosen(session: Session) -> None:
    note_choice(session, said("002"))
    assert opinion_of(session, PART, 2).keeper is None
    assert opinion_of(session, PART, 2).words == ()


def test_the_same_choice_changes_nothing_however_a_mail_spelled_it(session: Session) -> None:
    assert note_choice(session, said("002", "001", words='it\'s "it"'))
    before = tree(session.folder)
    assert not note_choice(session, said("002", "001", words="it’s  “it”", listener="ANA".title()))
    assert tree(session.folder) == before


def test_the_last_word_of_a_listener_counts_and_both_stay(session: Session) -> None:
    note_choice(session, said("002", "001", words="yes"))
    note_choice(session, said("003"), clock=noon)
    note_choice(session, said("002", listener="Ben", words="no"))
    assert note_choice(session, said("003", "002", listener="ana"))
    assert {one: [(by.listener, by.place) for by in of] for one, of in held(session).items()} == {
        3: [("ana", 1)],
        2: [("Ben", 1), ("ana", 2)],
    }
    assert told(session, 1) == ["chosen second by Ana, blind", "not chosen by Ana any more"]
    assert len(choices_read(session)) == 4
    assert [one.listener for one in counting(choices_read(session))] == ["ana", "Ben"]


def test_an_old_mail_read_again_overrules_no_newer_one(session: Session) -> None:
    note_choice(session, said("002"))
    note_choice(session, said("003"))
    assert not note_choice(session, said("002"))
    assert list(held(session)) == [3]


def test_nothing_takes_all_back(session: Session) -> None:
    note_choice(session, said("002", "001"))
    assert note_choice(session, said(words="all too dark"))
    assert held(session) == {}
    assert choices_read(session)[-1].words == {PART: "all too dark"}


def test_choices_of_two_hand_overs_stand_beside_each_other(session: Session) -> None:
    hand_over(session, "harbour-lights-002", OTHER_TOKEN)
    note_choice(session, said("002"))
    note_choice(session, said("002", "001", name="harbour-lights-002", token=OTHER_TOKEN))
    assert [one.token for one in held(session)[2]] == [TOKEN, OTHER_TOKEN]


@pytest.mark.parametrize("lines", range(6))
def test_what_a_crash_left_is_completed_by_reading_again(session: Session, lines: int) -> None:
    note_choice(session, said("001", "002"))
    path = session.folder / "journal.jsonl"
    before = path.read_bytes()
    wanted = said("003", "001", words="now")
    note_choice(session, wanted, clock=noon)
    full, whole = held(session), path.read_bytes()
    written = whole[len(before) :].splitlines(keepends=True)
    assert len(written) == 4  # 2 taken back, 3 and 1 said, all of it
    left = b"".join(written[:lines])
    path.write_bytes(before + left + (written[lines][:40] if lines < 4 else b""))
    assert note_choice(session, wanted, clock=noon) is (lines < 4)
    assert held(session) == full
    now = path.read_bytes()[len(before) :].splitlines()
    assert len([one for one in now if journal.entry_of(one)]) == 4  # each once
    assert choices_read(session)[-1] == wanted


# ------------------------------------------------------------------ refused


def test_a_choice_of_another_hand_over_or_of_what_was_not_in_it_is_refused(
    session: Session,
) -> None:
    of = handed_over(session)
    assert foreign_problem(session, said("001", "original:close"), of) is None
    for strange, says in (
        (
            said("001", token=OTHER_TOKEN),
            "another session or hand-over, harbour-lights-001 aaaaaaaa",
        ),
        (said("001", name="other-001"), "this session has handed over harbour-lights-001"),
        (said("001", "004"), f"{PART} 004 was not in the hand-over {NAME}"),
        (ChoiceText(**{**_fields(said("001")), "chosen": {"hook": ()}}), "no part 'hook' any more"),
    ):
        assert says in str(foreign_problem(session, strange, of))
    assert "this one has none yet" in str(foreign_problem(session, said("001"), ()))


def _fields(one: ChoiceText) -> dict[str, Any]:
    return {name: getattr(one, name) for name in one.__struct_fields__}


# ------------------------------------------------------------------ any journal

GOOD = {"listener": "Ana", "place": 1, "blind": True, "handover": NAME, "token": TOKEN}


@pytest.mark.parametrize(
    "wrong",
    [
        {"place": -1},
        {"place": 100},
        {"place": True},
        {"place": "1"},
        {"listener": ""},
        {"listener": "a\x1b[2J"},
        {"listener": "a" * 41},
        {"blind": "yes"},
        {"words": "x" * 201},
        {"words": "a\u202eb"},
        {"handover": "a\nb"},
        {"token": None},
    ],
)
def test_a_line_that_cannot_be_a_choice_counts_for_nothing(
    session: Session, wrong: dict[str, Any]
) -> None:
    assert read_choice(GOOD) is not None
    journal.append(session.folder, "said", part=PART, number=1, choice={**GOOD, **wrong})
    assert held(session) == {}
    assert told(session, 1) == ["something was said that this program cannot read"]


@given(
    line=st.dictionaries(
        st.sampled_from([*GOOD, "words", "chosen", "name", "checksum", "sounds"]),
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.text(),
            lambda one: st.lists(one) | st.dictionaries(st.text(), one),
            max_leaves=4,
        ),
    )
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30)
def test_any_line_is_passed_over(session: Session, line: dict[str, Any]) -> None:
    path = session.folder / "journal.jsonl"
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:3]))
    for event in "handed over", "choices read", "said":
        facts = {"part": PART, "number": 1, "choice": line} if event == "said" else line
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps({"at": NOON, "event": event, **facts}) + "\n")
    assert Opinions().look(session) is not None
    assert all(one.listener.isprintable() for one in choices_read(session))
    assert handed_over(session)[0].token == TOKEN


def test_places_have_words() -> None:
    assert choice_words(choice(2)) == "chosen second by Ana, blind"
    assert choice_words(choice(4)) == "chosen 4th by Ana, blind"
    assert choice_words(choice(0)) == "not chosen by Ana any more"
