"""A wiring that is chosen later: a new file, named by the session, never in the place of another."""

from pathlib import Path

import msgspec
import pytest
from session_cases import NOON, WIRING_TEXT, noon, session_with_a_part, tree

from audio.session import journal, opened
from audio.session.folder import create, open_session
from audio.vocab.errors import UseError
from audio.vocab.wiring_file import parse_wiring, read_wiring


def test_a_chosen_wiring_is_a_new_file_that_the_session_names(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING_TEXT)
    other = msgspec.structs.replace(session.wiring(), send_output=4)
    before = (session.folder / "session.yaml").read_text()
    session = session.choose_wiring(other, name="Other Room!", clock=noon)
    assert session.file.wiring == "wirings/other-room.yaml"
    assert session.wiring() == other
    assert open_session(session.folder) == session
    after = (session.folder / "session.yaml").read_text()
    assert after == before.replace("wiring: wiring.yaml", "wiring: wirings/other-room.yaml")
    assert (session.folder / "wiring.yaml").read_text() == WIRING_TEXT
    (entry,) = journal.read(session.folder)
    assert (entry.at, entry.event) == (NOON, "wiring chosen")
    assert entry.facts == {"file": "wirings/other-room.yaml"}


def test_a_wiring_never_takes_the_place_of_another_file(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING_TEXT)
    for output, file in ((4, "room"), (5, "room-2"), (6, "room-3")):
        other = msgspec.structs.replace(session.wiring(), send_output=output)
        session = session.choose_wiring(other, name="room")
        assert session.file.wiring == f"wirings/{file}.yaml"
    sends = [
        read_wiring(session.folder / f"wirings/{file}.yaml").send_output
        for file in ("room", "room-2", "room-3")
    ]
    assert sends == [4, 5, 6]


def test_a_session_without_a_wiring_gets_its_first_one(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    wiring = parse_wiring(WIRING_TEXT, where="wiring")
    session = session.choose_wiring(wiring, name="\u00a7")
    assert session.file.wiring == "wirings/unnamed.yaml"
    assert open_session(session.folder).wiring() == wiring
    assert session.part("rhythm-left")


def test_a_wiring_that_contradicts_itself_is_not_chosen(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING_TEXT)
    before = tree(session.folder)
    wrong = msgspec.structs.replace(session.wiring(), listen_outputs=(3,))
    with pytest.raises(UseError, match=r"'wrong', line .*listen"):
        session.choose_wiring(wrong, name="wrong")
    assert tree(session.folder) == before


def test_a_session_file_that_cannot_be_changed_leaves_the_choice_to_the_engineer(
    tmp_path: Path,
) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING_TEXT)
    path = session.folder / "session.yaml"
    path.write_text(path.read_text().replace("wiring: w", "wiring: >-\n  w"))
    before = path.read_bytes()
    wiring = session.wiring()
    with pytest.raises(UseError, match=r"write this line .*: wiring: wirings/room\.yaml$"):
        session.choose_wiring(wiring, name="room")
    assert path.read_bytes() == before
    assert read_wiring(session.folder / "wirings/room.yaml") == wiring


def test_a_full_disk_chooses_no_wiring(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING_TEXT)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(opened, "write_new", full)
    with pytest.raises(UseError, match="wirings cannot be written: No space left on device; make"):
        session.choose_wiring(session.wiring(), name="room")
    assert open_session(session.folder) == session
