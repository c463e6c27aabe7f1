"""Chains of a session and of the user: found, extended across folders, saved as new files only."""

from __future__ import annotations

from pathlib import Path

import pytest
from session_cases import session_with_a_part

from audio.session import layout
from audio.session.chains import as_set, chains, save_chain
from audio.session.opened import Session
from audio.vocab.chain import AmpAsSet, Chain, Pedal
from audio.vocab.errors import UseError


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Session:
    """Return a session without a chain, of a user who has none either."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return session_with_a_part(tmp_path)


def put(folder: Path, name: str, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_a_session_without_files_has_no_chain_and_no_problem(session: Session) -> None:
    assert chains(session).found == ()
    assert chains(session).problems == ()


def test_a_chain_of_the_session_extends_one_of_the_users_own(session: Session) -> None:
    put(layout.own_chains(), "crunch.yaml", "pedals: [{pedal: drive, knobs: {gain: 1:00}}]")
    put(layout.chains(session.folder), "more.yaml", "as: crunch\nturn: {drive: {gain: 2:30}}")
    found = chains(session)
    assert found.problems == ()
    assert [(one.chain.name, one.own) for one in found.found] == [("more", False), ("crunch", True)]
    more = found.named("More")
    assert more is not None
    assert more.pedals == (Pedal(name="drive", knobs={"gain": "2:30"}),)


def test_the_sessions_own_chain_hides_the_users_of_the_same_name(session: Session) -> None:
    put(layout.own_chains(), "crunch.yaml", "pedals: [drive]")
    put(layout.chains(session.folder), "crunch.yaml", "pedals: [fuzz]")
    crunch = chains(session).named("crunch")
    assert crunch is not None
    assert crunch.pedals[0].name == "fuzz"


def test_a_chain_of_the_session_may_extend_the_users_of_its_own_name(session: Session) -> None:
    put(layout.own_chains(), "crunch.yaml", "pedals: [{pedal: drive, knobs: {gain: 1:00}}, wah]")
    mine = put(
        layout.chains(session.folder), "crunch.yaml", "as: crunch\nturn: {drive: {gain: 2:30}}"
    )
    put(layout.chains(session.folder), "dry.yaml", "as: crunch\nwithout: [wah]")
    found = chains(session)
    assert found.problems == ()
    assert [(one.chain.name, one.own) for one in found.found] == [("crunch", False), ("dry", False)]
    turned = Pedal(name="drive", knobs={"gain": "2:30"})
    assert [one.chain.pedals[0] for one in found.found] == [turned, turned]
    put(layout.own_chains(), "crunch.yaml", "as: crunch")
    assert "circle" in "".join(chains(session).problems)
    mine.unlink()
    assert "circle" in "".join(chains(session).problems)


def test_two_of_the_users_own_by_one_name_are_told_behind_the_sessions_too(
    session: Session,
) -> None:
    put(layout.chains(session.folder), "crunch.yaml", "pedals: [fuzz]")
    put(layout.own_chains(), "crunch.yaml", "pedals: [drive]")
    put(layout.own_chains(), "other.yaml", "name: Crunch")
    assert "rename one" in "".join(chains(session).problems)


def test_what_is_wrong_in_one_file_costs_no_other(session: Session) -> None:
    folder = layout.chains(session.folder)
    put(folder, "good.yaml", "pedals: [fuzz]")
    put(folder, "bad.yaml", "pedals: [fuzz")
    put(folder, "round.yaml", "as: about")
    put(folder, "about.yaml", "as: round")
    put(folder, "lost.yaml", "as: nowhere")
    put(folder, "twin.yaml", "name: GOOD")
    put(folder, "wrong.yaml", "as: good\nwithout: [wah]")
    put(folder, "notes.txt", "not a chain")
    found = chains(session)
    assert [one.chain.name for one in found.found] == ["good"]
    said = "\n".join(found.problems)
    for words in ("bad.yaml, line 1", "circle", "'nowhere'", "rename one", "wrong.yaml, line 2"):
        assert words in said


def test_a_file_that_was_changed_is_read_again(session: Session) -> None:
    path = put(layout.chains(session.folder), "crunch.yaml", "pedals: [drive]")
    assert chains(session).found[0].chain.pedals[0].name == "drive"
    path.write_text("pedals: [fuzz, wah]", encoding="utf-8")
    assert [one.name for one in chains(session).found[0].chain.pedals] == ["fuzz", "wah"]


@pytest.mark.parametrize("own", [False, True])
def test_a_chain_is_saved_as_a_new_file_and_none_is_replaced(session: Session, own: bool) -> None:
    chain = Chain(
        name="Fuzz: into delay?",
        pedals=(Pedal(name="fuzz", knobs={"volume": "2:30"}),),
        amps=(AmpAsSet(input="bright"),),
    )
    saved = save_chain(session, chain, own=own)
    assert saved.own == own
    assert chains(session).named("Fuzz: into delay?") == chain
    before = Path(session.folder, saved.file).read_bytes()
    with pytest.raises(UseError, match="none is ever replaced"):
        save_chain(session, Chain(name="fuzz: into DELAY?"), own=own)
    assert Path(session.folder, saved.file).read_bytes() == before


def test_the_bare_path_is_no_chain_to_be_saved(session: Session) -> None:
    with pytest.raises(UseError, match="no pedal"):
        save_chain(session, Chain(name="Bare Path"), own=False)


def test_a_variant_keeps_all_that_the_file_says_and_nothing_where_there_is_none(
    session: Session,
) -> None:
    put(layout.chains(session.folder), "crunch.yaml", "pedals: [{pedal: drive, moves: true}]")
    kept = as_set(chains(session), "crunch")
    assert kept.content["pedals"] == [{"name": "drive", "knobs": {}, "moves": True, "note": ""}]
    assert "name" not in kept.content
    assert as_set(chains(session), "something else").content == {}
