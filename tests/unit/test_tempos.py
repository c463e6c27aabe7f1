"""Tempo files of a session: added whole or not at all, read once, and used wherever bars are."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from msgspec.structs import replace as replaced
from session_cases import CrashError, crash, recording, tree
from tempo_cases import END, metre_event, midi, tempo_event

from audio.files import midi_tempo
from audio.files.tempo import TempoFile, look_at_tempo
from audio.jobs import tempos
from audio.jobs.sections import bars_problem, covered
from audio.jobs.sessions import add_tempo
from audio.jobs.snapshots import snapshot
from audio.jobs.tempos import brought_tempo, part_bpm, plain_tempo, song_tempo, told_tempo
from audio.session import journal, opened
from audio.session.catalogue import Catalogue
from audio.session.folder import create, open_session
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.section_text import parse_section
from audio.vocab.session_file import Song

RATE = 48_000
SLOWS = midi(tempo_event(0, 500_000) + tempo_event(8 * 480, 1_000_000) + END)
"""Two bars of 4/4 at 120, then 60 quarter notes a minute."""
LABELS = b"1.0\t1.0\t1\n3.0\t3.0\t2\n"


def a_file(folder: Path, data: bytes = SLOWS, name: str = "click.mid") -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def a_session(folder: Path, **song: object) -> Session:
    return create(folder / "evening", name="evening", song="tide", **song)  # type: ignore[arg-type]


def looked(folder: Path, data: bytes = SLOWS, name: str = "click.mid") -> TempoFile:
    return look_at_tempo(a_file(folder, data, name), metre=None)


# ------------------------------------------------------------------ adding


def test_a_tempo_file_is_copied_noted_and_told_in_the_journal(tmp_path: Path) -> None:
    session = a_session(tmp_path, bpm=90.0)
    added = add_tempo(session, a_file(tmp_path), song=None, metre=None)
    noted = open_session(session.folder)
    assert noted.song().tempo_file == "tempo/tide.mid"
    assert noted.song().bpm == 90.0
    assert noted.path("tempo/tide.mid").read_bytes() == SLOWS
    (entry,) = journal.read(session.folder)
    assert (entry.event, entry.facts) == ("tempo added", {"song": "tide", "file": "tempo/tide.mid"})
    assert added.tempo is not None
    assert (added.tempo.slowest_bpm, added.tempo.fastest_bpm, added.tempo.tempos) == (60, 120, 2)
    assert added.tempo.instead_of_bpm == 90.0


def test_labels_take_a_metre_with_them(tmp_path: Path) -> None:
    session = a_session(tmp_path)
    add_tempo(session, a_file(tmp_path, LABELS, "bars.txt"), song="tide", metre="3/4")
    song = open_session(session.folder).song()
    assert (song.tempo_file, song.metre) == ("tempo/tide.txt", "3/4")
    found = song_tempo(open_session(session.folder), song).map
    assert found is not None
    assert found.bpm_range == (90, 90)


def test_a_new_song_brings_its_tempo_file_with_its_first_part(tmp_path: Path) -> None:
    session = a_session(tmp_path)
    source, facts = recording(tmp_path / "hook.wav")
    session = session.add_part(
        source=source, facts=facts, song=Song(name="ebb"), tempo=looked(tmp_path)
    )
    assert open_session(session.folder).song("ebb").tempo_file == "tempo/ebb.mid"
    assert session.path("tempo/ebb.mid").read_bytes() == SLOWS


def test_a_second_tempo_file_and_another_metre_are_refused_and_nothing_changes(
    tmp_path: Path,
) -> None:
    session = a_session(tmp_path, metre="4/4")
    path = a_file(tmp_path)
    before = tree(session.folder)
    with pytest.raises(UseError, match=r"is in 4/4, not in 3/4; leave --metre out"):
        add_tempo(session, path, song=None, metre="3/4")
    with pytest.raises(UseError, match=r"'x' is no metre"):
        add_tempo(session, path, song=None, metre="x")
    assert tree(session.folder) == before
    add_tempo(session, path, song=None, metre="4/4")
    before = tree(session.folder)
    with pytest.raises(UseError, match=r"has a tempo file already, tempo/tide\.mid; take it out"):
        add_tempo(open_session(session.folder), path, song=None, metre=None)
    assert tree(session.folder) == before


def test_a_metre_that_the_file_contradicts_is_refused(tmp_path: Path) -> None:
    path = a_file(tmp_path, midi(metre_event(0, 3, 2) + END))
    with pytest.raises(
        UseError, match=r"click\.mid begins in 3/4, not in 4/4; leave the metre out"
    ):
        brought_tempo(path, metre="4/4")
    assert brought_tempo(path, metre="3/4").map.metres[0].metre.beats == 3


def test_what_a_crash_leaves_is_taken_up_by_the_next_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, tempo = a_session(tmp_path), looked(tmp_path)
    with monkeypatch.context() as patched:
        patched.setattr(opened, "write_atomic", crash)
        with pytest.raises(CrashError):
            session.add_tempo(None, tempo)
    assert open_session(session.folder).song().tempo_file is None
    assert session.add_tempo(None, tempo).song().tempo_file == "tempo/tide.mid"
    assert [path.name for path in (session.folder / "tempo").iterdir()] == ["tide.mid"]


def test_a_file_that_changes_while_it_is_added_is_refused(tmp_path: Path) -> None:
    session, tempo = a_session(tmp_path), looked(tmp_path)
    a_file(tmp_path, SLOWS + b"\0")
    with pytest.raises(UseError, match="changed while it was read"):
        session.add_tempo(None, tempo)
    assert open_session(session.folder).song().tempo_file is None


# ------------------------------------------------------------------ reading


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """Return a session whose one song has a tempo that slows down."""
    return a_session(tmp_path, bpm=90.0).add_tempo(None, looked(tmp_path))


def test_a_file_that_stays_is_read_once_and_again_when_it_changes(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    song = session.song()
    first = song_tempo(session, song)
    with monkeypatch.context() as patched:
        patched.setattr(midi_tempo, "_read", crash)
        assert song_tempo(session, song) is first
    session.path("tempo/tide.mid").write_bytes(midi(tempo_event(0, 400_000) + END) + b"\0")
    second = song_tempo(session, song).map
    assert second is not None
    assert second.bpm_range == (150, 150)


def test_what_is_wrong_with_a_file_is_said_and_a_snapshot_stands_all_the_same(
    session: Session,
) -> None:
    path = session.path("tempo/tide.mid")
    (told,) = snapshot(session, Catalogue()).tempos
    assert (told.file, told.tempo) == ("tempo/tide.mid", song_tempo(session, session.song()))
    assert told_tempo(session.song(), (told,)) is told.tempo
    path.unlink()
    (told,) = snapshot(session, Catalogue()).tempos
    assert told.tempo.map is None
    assert f"{path} cannot be read" in told.tempo.problem
    assert "put it back" in told.tempo.problem
    path.write_bytes(SLOWS[:30])
    assert "is cut off; copy it again" in snapshot(session, Catalogue()).tempos[0].tempo.problem


def test_songs_of_another_metre_read_the_same_labels_otherwise(tmp_path: Path) -> None:
    session = a_session(tmp_path).add_tempo(None, looked(tmp_path, LABELS, "bars.txt"))
    song = session.song()
    three = replaced(song, name="other", metre="3/4")
    both = replace(session, file=replaced(session.file, songs=(song, three)))
    told = snapshot(both, Catalogue()).tempos
    maps = [told_tempo(one, told).map for one in (song, three)]
    assert [one.bpm_range[0] for one in maps if one] == [120, 90]


def test_a_song_whose_file_nobody_read_says_so_and_one_with_bpm_needs_none() -> None:
    song = Song(name="tide", bpm=96.0, tempo_file="a.mid")
    assert told_tempo(song, ()).map is None
    assert "a.mid was not read" in told_tempo(song, ()).problem
    assert told_tempo(Song(name="tide", bpm=96.0), ()).map is not None
    assert plain_tempo(Song(name="tide")).map is None


# ------------------------------------------------------------------ using


def test_a_section_lies_where_the_files_bars_do(session: Session) -> None:
    song = session.song()
    found = covered(
        parse_section("bars 2-3"), song, tempo=song_tempo(session, song), time_reference=0,
        frames=60 * RATE, rate=RATE,
    )  # fmt: skip
    assert (found.section_from_frame, found.section_to_frame) == (2 * RATE, 8 * RATE)


def test_bars_of_a_file_that_cannot_be_used_are_refused_with_both_ways_out(
    session: Session,
) -> None:
    session.path("tempo/tide.mid").unlink()
    song = session.song()
    said = bars_problem(parse_section("bar 2"), song, song_tempo(session, song))
    assert said.startswith("bar 2: ")
    assert "put it back" in said
    assert "ask for seconds, such as 12.5-18 s" in said
    assert bars_problem(parse_section("1-2 s"), song, song_tempo(session, song)) == ""


@pytest.mark.parametrize(
    ("frame", "bpm"), [(0, 120), (1, 120), (2 * RATE, 120), (2 * RATE + 1, 60), (9 * RATE, 60)]
)
def test_echoes_are_told_by_the_first_bar_that_begins_in_what_is_played(
    session: Session, frame: int, bpm: float
) -> None:
    song = session.song()
    tempo = song_tempo(session, song)
    assert part_bpm(song, tempo, time_reference=0, frame=frame, rate=RATE) == bpm


def test_echoes_of_a_song_with_bpm_are_told_by_it() -> None:
    song = Song(name="tide", bpm=97.3)
    assert part_bpm(song, plain_tempo(song), time_reference=0, rate=RATE) == 97.3
    song = Song(name="tide")
    assert part_bpm(song, tempos.plain_tempo(song), time_reference=0, rate=RATE) is None
