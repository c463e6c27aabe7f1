"""``secondpass note``: what it writes into the journal, what it prints, what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from installed import Ran, run
from needs import needs_samples
from told_sessions import PART, session_of

from audio.session import layout
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.session.passes import claim

pytestmark = needs_samples()


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return session_of(tmp_path, 2)


def note(session: Session, *words: str, number: str = "2") -> Ran:
    told = ("note", session.folder.name, "--part", PART, "--number", number)
    return run(*told, *words, folder=session.folder.parent)


def test_what_is_said_is_kept_and_told_with_the_history(session: Session) -> None:
    said = ("--rating", "4", "--words", "warm [/]", "--photo", "desk.jpg", "--called", "the one")
    assert note(session, *said).code == 0
    ran = note(session, "--chain", "crunch", "--discard")
    assert ran.code == 0, ran.err
    head, *lines = [" ".join(line.split()) for line in ran.out.splitlines()]
    assert head == "GOOD riff 002 through fuzz 2"
    told = " ".join(lines)
    assert (
        "4 of 5 · called the one · really made through crunch, not fuzz 2 · photos: desk.jpg"
        in told
    )
    assert "· discarded “warm [/]”" in told
    assert [line.split(" ", 2)[2] for line in lines if line.startswith("20")] == [
        "its number was claimed",
        "rated 4 of 5; “warm [/]”; photo desk.jpg; called the one",
        "made through crunch; discarded",
    ]
    known = json.loads(note(session, "--take-back", "--json").out)
    assert known["opinion"]["discarded"] is False
    assert known["opinion"]["words"] == ["warm [/]"]
    assert known["recorded"]["chain"]["name"] == "fuzz 2"
    assert known["history"][-1]["text"] == "taken back into sight"


def test_a_variant_is_kept_with_its_blend_and_that_is_taken_back(session: Session) -> None:
    ran = note(session, "--keep", "sits [in] the mix", "--balance", "close=0", "room=-6")
    assert ran.code == 0, ran.err
    told = " ".join(ran.out.split())
    assert "keeper: sits [in] the mix, close 0 dB, room −6 dB" in told
    assert "kept: sits [in] the mix, close 0 dB, room −6 dB" in told
    assert "balance now" not in told
    told = " ".join(note(session, "--balance", "room=off").out.split())
    assert "keeper: sits [in] the mix, close 0 dB, room −6 dB · balance now: room off" in told
    known = json.loads(note(session, "--keep", "--json").out)
    blend = {"faders": [{"name": "room", "db": None}], "solo": []}
    assert known["opinion"]["keeper"] == {"reason": "sits [in] the mix", "balance": blend}
    assert known["opinion"]["balance"] == blend
    known = json.loads(note(session, "--not-kept", "--json").out)
    assert known["opinion"]["keeper"] is None
    assert known["history"][-1]["text"] == "not kept any more"


def test_with_nothing_to_say_it_only_reads_even_while_another_program_has_the_session(
    session: Session,
) -> None:
    before = layout.journal(session.folder).read_bytes()
    with lock_session(session.folder, program="secondpass open"):
        ran = note(session, number="001")
        assert ran.code == 0, ran.err
        assert ran.out.startswith("GOOD  riff 001 through fuzz 1")
        refused = note(session, "--rating", "3")
        assert refused.code == 2
        assert "in use by secondpass open" in refused.err
    assert layout.journal(session.folder).read_bytes() == before


def test_a_number_that_was_discarded_is_never_used_again(session: Session) -> None:
    assert note(session, "--discard").code == 0
    assert claim(session, PART).number == 3


@pytest.mark.parametrize(
    ("words", "number", "says"),
    [
        (("--rating", "6"), "2", "riff 002: 6 is no rating; rate from 1 to 5"),
        (("--rating", "best"), "2", "'best' is no rating; write 1 to 5, or 0"),
        (("--photo", "../desk.jpg"), "2", "give the name alone, without a folder"),
        (("--words", "a\x1b[2Jb"), "2", "hidden character"),
        (("--rating", "3"), "9", "riff has no variant 009"),
        ((), "9", "riff has no variant 009"),
        (("--rating", "3"), "0", "'0' is no number of a variant"),
        (("--discard", "--take-back"), "2", "not allowed with"),
        (("--keep", "--not-kept"), "2", "not allowed with"),
        (("--keep", "--discard"), "2", "riff 002: a keeper is not discarded"),
        (("--keep", "a\x1b[2Jb"), "2", "hidden character"),
        (("--balance", "room"), "2", "'room' is no fader; write the microphone and its level"),
        (("--balance", "room=soft"), "2", "'room=soft' is no fader"),
        (("--balance", "=0"), "2", "'=0' is no fader"),
        (("--balance", "ribbon=-3"), "2", "no microphone 'ribbon'; those it has: close and room"),
        (("--balance", "room=3"), "2", "riff 002: a fader of 3 dB was asked for"),
        (("--balance", "room=-3", "room=0"), "2", "has two faders"),
    ],
)
def test_what_cannot_be_said_is_one_sentence_and_nothing_is_noted(
    session: Session, words: tuple[str, ...], number: str, says: str
) -> None:
    before = layout.journal(session.folder).read_bytes()
    ran = note(session, *words, number=number)
    assert ran.code == 2
    assert says in " ".join(ran.err.split())
    assert "\x1b" not in ran.err
    assert "Traceback" not in ran.err
    assert layout.journal(session.folder).read_bytes() == before


def test_a_damaged_variant_can_still_be_spoken_of(session: Session) -> None:
    layout.variant_json(layout.pass_folder(session.folder, PART, 2)).write_bytes(b"{")
    ran = note(session, "--discard", "--words", "the file is gone")
    assert ran.code == 0, ran.err
    assert "variant.json is damaged" in " ".join(ran.out.split())
    assert "“the file is gone”" in ran.out
