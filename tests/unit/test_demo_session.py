"""The demo's session is made whole, and its headless run does not wait for a clock."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from session_cases import tree

from audio.jobs.demo import make_demo, without_clock
from audio.session import journal
from audio.session.folder import open_session
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.wiring import SimulatedDevice


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    return make_demo(tmp_path_factory.mktemp("demo") / "ferry")


def test_the_session_holds_two_songs_their_parts_a_backing_track_and_an_original(
    session: Session,
) -> None:
    assert open_session(session.folder) == session
    assert session.file.name == "harbour lights"
    first, second = session.file.songs
    assert [part.name for part in first.parts] == ["rhythm-left", "rhythm-right", "hook"]
    assert [part.name for part in second.parts] == ["arpeggio", "answer"]
    assert (first.bpm, first.metre, first.song_start_s) == (96, "4/4", 0.25)
    assert (second.bpm, second.metre, second.song_start_s) == (108, "6/8", 0.6)
    assert first.backing is not None
    assert second.backing is None
    (original,) = first.parts[0].originals
    named = [one.revisions[0].file for song in (first, second) for one in song.parts]
    for file in (first.backing.file, original.file, *named):
        assert session.path(file).read_bytes()[:4] == b"fLaC"


def test_no_pass_was_made_yet_and_the_journal_tells_what_was_added(session: Session) -> None:
    assert tree(session.folder / "passes") == {}
    events = [entry.event for entry in journal.read(session.folder)]
    assert events.count("part added") == 5
    assert (events.count("song added"), events.count("backing added")) == (1, 1)
    assert events.count("original added") == 1


def test_the_sessions_own_wiring_runs_by_the_clock_and_only_the_pace_is_lifted(
    session: Session,
) -> None:
    wiring = session.wiring()
    assert isinstance(wiring.device, SimulatedDevice)
    assert wiring.device.pace == "clock"
    free = without_clock(wiring)
    assert free.device == msgspec.structs.replace(wiring.device, pace="free")
    assert msgspec.structs.replace(free, device=wiring.device) == wiring


def test_the_chosen_demo_wiring_is_read_back_whole(session: Session, tmp_path: Path) -> None:
    copy = make_demo(tmp_path / "copy")
    chosen = copy.choose_wiring(without_clock(copy.wiring()), name="in a hurry")
    assert chosen.file.wiring == "wirings/in-a-hurry.yaml"
    assert chosen.wiring() == without_clock(session.wiring())


def test_a_demo_without_a_name_takes_the_next_free_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "harbour-lights").mkdir()
    (tmp_path / "harbour-lights" / "mine").touch()
    assert make_demo(None).folder == tmp_path / "harbour-lights-2"
    assert [path.name for path in (tmp_path / "harbour-lights").iterdir()] == ["mine"]


def test_a_demo_into_a_folder_in_use_changes_nothing(tmp_path: Path) -> None:
    (tmp_path / "mine").touch()
    with pytest.raises(UseError, match="not empty"):
        make_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]
