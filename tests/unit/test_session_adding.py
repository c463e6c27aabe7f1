"""What is added to a session: parts, revisions, originals, songs, backing tracks; whole or not at all."""

import hashlib
from pathlib import Path

import pytest
from needs import GUITARS, needs_samples
from session_cases import (
    NOON,
    CrashError,
    crash,
    facts_of,
    noon,
    recording,
    session_with_a_part,
    tree,
)

from audio.files.inspect import inspect
from audio.session import journal, opened
from audio.session.folder import create, open_session
from audio.vocab.errors import UseError
from audio.vocab.names import name_problem
from audio.vocab.session_file import Song


@needs_samples()
def test_real_playing_is_copied_bit_for_bit_and_named(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b")
    for source in GUITARS:
        session = session.add_part(source=source, facts=inspect(source), clock=noon)
    assert open_session(session.folder) == session
    for source in GUITARS:
        (revision,) = session.part(source.stem)[1].revisions
        copy = session.path(revision.file)
        assert copy.name == f"{source.stem}.r1.flac"
        assert hashlib.sha256(copy.read_bytes()).hexdigest() == revision.file_sha256
        assert copy.read_bytes() == source.read_bytes()


def test_a_part_is_named_after_its_file_and_noted_in_the_journal(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b")
    source, facts = recording(tmp_path / "rhythm left.wav")
    session = session.add_part(source=source, facts=facts, channel=2, trim_db=-3, clock=noon)
    song, part = session.part("rhythm left")
    assert (song.name, part.trim_db, part.revisions[0].channel) == ("b", -3, 2)
    (entry,) = journal.read(session.folder)
    assert (entry.at, entry.event) == (NOON, "part added")
    assert entry.facts == {"part": "rhythm left", "file": "di/rhythm left.r1.wav"}


def test_a_corrected_edit_becomes_the_newest_revision_and_the_old_file_stays(
    tmp_path: Path,
) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "edit2.wav", b"better")
    session = session.add_revision("rhythm-left", source=source, facts=facts)
    files = [one.file for one in session.part("rhythm-left")[1].revisions]
    assert files == ["di/rhythm-left.r1.wav", "di/rhythm-left.r2.wav"]
    assert [session.path(f).read_bytes() for f in files] == [b"RIFF", b"better"]


def test_the_same_edit_again_is_no_revision(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    before = tree(session.folder)
    with pytest.raises(UseError, match="has already"):
        session.add_revision(
            "rhythm-left", source=tmp_path / "edit.wav", facts=facts_of(tmp_path / "edit.wav")
        )
    assert tree(session.folder) == before


def test_originals_stand_beside_their_part(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "amp.wav", b"amp")
    session = session.add_original("rhythm-left", source=source, facts=facts, name="close")
    (original,) = session.part("rhythm-left")[1].originals
    assert original.file == "originals/rhythm-left.close.wav"
    assert session.path(original.file).read_bytes() == b"amp"
    with pytest.raises(UseError, match="has an original 'Close' already"):
        session.add_original("rhythm-left", source=source, facts=facts, name="Close")


def test_the_engineers_edits_meanwhile_are_kept(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    path = session.folder / "session.yaml"
    path.write_text(path.read_text().replace("    parts:", "    bpm: 104   # she said\n    parts:"))
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    session = session.add_part(source=source, facts=facts)
    assert session.file.songs[0].bpm == 104
    assert "# she said" in path.read_text()
    assert [part.name for part in session.file.songs[0].parts] == ["rhythm-left", "hook"]


def test_with_several_songs_the_song_must_be_named(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="low")
    path = session.folder / "session.yaml"
    path.write_text(path.read_text() + "  - name: high\n")
    session = open_session(session.folder)
    source, facts = recording(tmp_path / "hook.wav")
    with pytest.raises(UseError, match="its songs are: low, high"):
        session.add_part(source=source, facts=facts)
    with pytest.raises(UseError, match="no song 'hi'"):
        session.add_part(source=source, facts=facts, song="hi")
    assert session.add_part(source=source, facts=facts, song="high").part("hook")[0].name == "high"


def test_an_unknown_part_is_answered_with_the_parts_there_are(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    with pytest.raises(UseError, match="no part 'left'; its parts are: rhythm-left"):
        session.part("left")
    with pytest.raises(UseError, match="secondpass add"):
        create(tmp_path / "b", name="a", song="b").part("left")


@pytest.mark.parametrize(
    "name",
    [
        "..",
        "../x",
        "a/b",
        "a\\b",
        "",
        " ",
        "a\0b",
        "a\nb",
        "nul",
        "COM1.x",
        ".git",
        "x" * 81,
        "a\u202eb",
        "-n",
        "a:b",
    ],
)
def test_a_hostile_name_changes_nothing(tmp_path: Path, name: str) -> None:
    session = session_with_a_part(tmp_path)
    before = tree(tmp_path)
    source, facts = tmp_path / "edit.wav", facts_of(tmp_path / "edit.wav")
    with pytest.raises(UseError, match="name"):
        session.add_part(source=source, facts=facts, name=name)
    with pytest.raises(UseError, match="name"):
        session.add_original("rhythm-left", source=source, facts=facts, name=name)
    assert tree(tmp_path) == before


@pytest.mark.parametrize("twin", ["caf\u00e9", "cafe\u0301", "CAF\u00c9", "Cafe\u0301"])
def test_a_name_some_disk_takes_for_another_is_refused(tmp_path: Path, twin: str) -> None:
    session = session_with_a_part(tmp_path, part="caf\u00e9")
    with pytest.raises(UseError, match="exists already"):
        session.add_part(
            source=tmp_path / "edit.wav", facts=facts_of(tmp_path / "edit.wav"), name=twin
        )


def test_a_channel_the_file_does_not_have_is_refused(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b")
    source, _ = recording(tmp_path / "x.wav")
    for channel, channels, says in (
        (3, 2, "2 channels"),
        (0, 2, "2 channels"),
        (2, 1, "one channel"),
    ):
        with pytest.raises(UseError, match=says):
            session.add_part(
                source=source, facts=facts_of(source, channels=channels), channel=channel
            )


def test_a_trim_out_of_range_leaves_the_session_as_it_was(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b")
    source, facts = recording(tmp_path / "x.wav")
    with pytest.raises(UseError, match="from -60 to 24 dB"):
        session.add_part(source=source, facts=facts, trim_db=60)
    assert tree(session.folder / "di") == {}
    assert open_session(session.folder) == session


def test_a_second_song_is_noted_and_takes_parts(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    session = session.add_song("low water", bpm=108, metre="6/8", song_start_s=0.6, clock=noon)
    assert open_session(session.folder) == session
    song = session.song("low water")
    assert (song.bpm, song.metre, song.song_start_s, song.parts) == (108, "6/8", 0.6, ())
    last = journal.read(session.folder)[-1]
    assert (last.event, last.facts) == ("song added", {"song": "low water"})
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    session = session.add_part(source=source, facts=facts, song="low water")
    assert session.part("hook")[0].name == "low water"


def test_a_new_song_comes_with_its_first_part_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    song = Song(name="low water", bpm=108)
    before = tree(session.folder)
    for wrong in ({"name": "Rhythm-Left"}, {"channel": 3}, {"trim_db": 99}):
        with pytest.raises(UseError):
            session.add_part(source=source, facts=facts, song=song, **wrong)
        assert tree(session.folder) == before
    with monkeypatch.context() as patched:
        patched.setattr(opened, "write_atomic", crash)
        with pytest.raises(CrashError):
            session.add_part(source=source, facts=facts, song=song)
    assert open_session(session.folder) == session
    session = session.add_part(source=source, facts=facts, song=song, clock=noon)
    assert open_session(session.folder) == session
    assert session.part("hook")[0].bpm == 108
    events = [entry.event for entry in journal.read(session.folder)]
    assert events == ["part added", "song added", "part added"]


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"name": ""}, "name is empty"),
        ({"name": "a\nb"}, "hidden"),
        ({"name": "x" * 81}, "shorten it"),
        ({"name": "Harbour Lights"}, "there is a song 'harbour lights' already"),
        ({"bpm": 5}, "from 20 to 400"),
        ({"bpm": float("nan")}, "from 20 to 400"),
        ({"metre": "6"}, "such as 4/4"),
        ({"song_start_s": -0.1}, "from 0 to 86400"),
        ({"song_start_s": 1e6}, "from 0 to 86400"),
    ],
)
def test_a_song_that_cannot_be_changes_nothing(
    tmp_path: Path, wrong: dict[str, object], says: str
) -> None:
    session = session_with_a_part(tmp_path)
    before = tree(session.folder)
    with pytest.raises(UseError, match=says):
        session.add_song(**{"name": "low water", **wrong})
    assert tree(session.folder) == before


def test_a_backing_track_is_copied_in_and_named_after_its_song(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    source, _ = recording(tmp_path / "mix 3.flac", b"fLaC")
    facts = facts_of(source, channels=6, container="FLAC")
    session = session.add_backing(None, source=source, facts=facts, clock=noon)
    assert open_session(session.folder) == session
    backing = session.song().backing
    assert backing is not None
    assert backing.file == "backing/harbour-lights.flac"
    assert session.path(backing.file).read_bytes() == b"fLaC"
    last = journal.read(session.folder)[-1]
    assert (last.event, last.facts) == (
        "backing added",
        {"song": "harbour lights", "file": "backing/harbour-lights.flac"},
    )
    before = tree(session.folder)
    with pytest.raises(UseError, match=r"has a backing track already, backing/harbour-lights"):
        session.add_backing("harbour lights", source=source, facts=facts)
    assert tree(session.folder) == before


@pytest.mark.parametrize(
    "name", ["../up", "aux", "a: [b]", "x" * 80, "\u65e5\u672c\u8a9e" * 26, "?"]
)
def test_whatever_a_song_is_called_its_backing_track_gets_a_name_every_disk_takes(
    tmp_path: Path, name: str
) -> None:
    session = create(tmp_path / "tide", name="a", song=name)
    source, facts = recording(tmp_path / "mix.wav")
    session = session.add_backing(name, source=source, facts=facts)
    assert session.song().backing is not None
    file = session.song().backing.file
    assert session.path(file).parent == session.folder / "backing"
    assert name_problem(Path(file).stem) is None


def test_a_backing_track_that_changed_meanwhile_is_not_taken(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "mix.wav", b"mix")
    source.write_bytes(b"another mix")
    with pytest.raises(UseError, match="changed while it was read"):
        session.add_backing(None, source=source, facts=facts)
    assert open_session(session.folder) == session
