"""A session folder appears whole, opens, and takes files in without ever losing or overwriting one."""

import hashlib
import os
from pathlib import Path

import msgspec
import pytest
from needs import GUITARS, needs_samples
from session_cases import NOON, facts_of, noon, recording, session_with_a_part, tree

from audio.files.inspect import inspect
from audio.files.text import write_atomic
from audio.session import copying, journal, layout, opened
from audio.session.folder import create, open_session
from audio.vocab.errors import UseError
from audio.vocab.names import name_problem
from audio.vocab.session_file import Song
from audio.vocab.wiring_file import parse_wiring, read_wiring
from audio.vocab.wiring_text import wiring_text

WIRING = """\
# our room
name: room
device: {kind: simulated}
sample_rate: 48000
send: {output: 3}
returns: [{name: close, input: 2}]   # the good one
"""

AS_ROOT = os.geteuid() == 0 if hasattr(os, "geteuid") else False


class CrashError(BaseException):
    """The process ends here: nothing below may catch it."""


def crash(*_: object, **__: object) -> None:
    raise CrashError


# ------------------------------------------------------------------ making and opening


def test_a_new_session_is_a_folder_that_opens_to_the_same_value(tmp_path: Path) -> None:
    made = create(
        tmp_path / "tide", name="tide", song="low: tide", bpm=92.5, metre="6/8", wiring_text=WIRING
    )
    assert open_session(tmp_path / "tide") == made
    song = made.file.songs[0]
    assert (song.name, song.bpm, song.metre, song.parts) == ("low: tide", 92.5, "6/8", ())
    assert (tmp_path / "tide" / "wiring.yaml").read_text() == WIRING
    assert made.wiring().name == "room"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["tide"]


def test_an_empty_folder_may_become_a_session(tmp_path: Path) -> None:
    (tmp_path / "tide").mkdir()
    assert create(tmp_path / "tide", name="a", song="b").file.songs[0].parts == ()


def test_new_folders_have_the_rights_new_folders_get_here(tmp_path: Path) -> None:
    (tmp_path / "usual").mkdir()
    create(tmp_path / "tide", name="a", song="b")
    modes = {(tmp_path / name).stat().st_mode for name in ("usual", "tide", "tide/di")}
    assert len(modes) == 1


def test_a_folder_that_is_not_free_is_refused_and_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").touch()
    (tmp_path / "file").touch()
    (tmp_path / "here").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    monkeypatch.chdir(tmp_path / "here")
    before = tree(tmp_path)
    for name, says in (
        ("full", "not empty"),
        ("file", "a file of this name"),
        ("here", "leave it"),
        ("link", "a file of this name"),
        ("none/tide", "parent folder does not exist"),
    ):
        with pytest.raises(UseError, match=says):
            create(tmp_path / name, name="a", song="b")
    assert tree(tmp_path) == before


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"bpm": 5}, "from 20 to 400"),
        ({"metre": "4"}, "4/4"),
        ({"song": "a\nb"}, "hidden"),
        ({"name": ""}, "name is empty"),
        ({"wiring_text": "name: x\n"}, "device is missing"),
    ],
)
def test_a_wrong_value_makes_no_folder(tmp_path: Path, wrong: dict[str, object], says: str) -> None:
    with pytest.raises(UseError, match=says):
        create(tmp_path / "tide", **{"name": "a", "song": "b", **wrong})
    assert tree(tmp_path) == {}


@pytest.mark.parametrize(
    "step", ["write_new", "tempfile.mkdtemp", "Path.rename", "platform.sync_folder"]
)
def test_a_crash_while_making_leaves_no_session_or_a_whole_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    monkeypatch.setattr(f"audio.session.folder.{step}", crash)
    with pytest.raises(CrashError):
        create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING)
    monkeypatch.undo()
    if (tmp_path / "tide").exists():
        assert open_session(tmp_path / "tide").wiring().name == "room"
    else:
        assert create(tmp_path / "tide", name="a", song="b").file.name == "a"


def test_what_is_no_session_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "yaml").mkdir()
    (tmp_path / "yaml" / "session.yaml").mkdir()
    for name, says in (("none", "no such folder"), ("empty", "no session"), ("yaml", "a folder")):
        with pytest.raises(UseError, match=says):
            open_session(tmp_path / name)


def test_a_session_of_a_newer_program_is_refused_by_name(tmp_path: Path) -> None:
    create(tmp_path / "tide", name="a", song="b")
    path = tmp_path / "tide" / "session.yaml"
    path.write_text(path.read_text().replace("format: 1", "format: 2\nmood: blue"))
    with pytest.raises(UseError, match=r"session.yaml, line 3: .*newer program"):
        open_session(tmp_path / "tide")


def test_a_session_without_a_wiring_says_how_to_give_one(tmp_path: Path) -> None:
    with pytest.raises(UseError, match="pass --wiring FILE"):
        create(tmp_path / "tide", name="a", song="b").wiring()


def test_a_wiring_that_went_missing_is_named(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING)
    (session.folder / "wiring.yaml").unlink()
    with pytest.raises(UseError, match=r"wiring.yaml: there is no such file"):
        session.wiring()


def test_a_written_wiring_is_one_a_session_takes(tmp_path: Path) -> None:
    session = create(tmp_path / "a", name="a", song="b", wiring_text=WIRING)
    again = create(tmp_path / "b", name="a", song="b", wiring_text=wiring_text(session.wiring()))
    assert again.wiring() == session.wiring()


# ------------------------------------------------------------------ adding


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


# ------------------------------------------------------------------ choosing a wiring


def test_a_chosen_wiring_is_a_new_file_that_the_session_names(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING)
    other = msgspec.structs.replace(session.wiring(), send_output=4)
    before = (session.folder / "session.yaml").read_text()
    session = session.choose_wiring(other, name="Other Room!", clock=noon)
    assert session.file.wiring == "wirings/other-room.yaml"
    assert session.wiring() == other
    assert open_session(session.folder) == session
    after = (session.folder / "session.yaml").read_text()
    assert after == before.replace("wiring: wiring.yaml", "wiring: wirings/other-room.yaml")
    assert (session.folder / "wiring.yaml").read_text() == WIRING
    (entry,) = journal.read(session.folder)
    assert (entry.at, entry.event) == (NOON, "wiring chosen")
    assert entry.facts == {"file": "wirings/other-room.yaml"}


def test_a_wiring_never_takes_the_place_of_another_file(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING)
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
    wiring = parse_wiring(WIRING, where="wiring")
    session = session.choose_wiring(wiring, name="\u00a7")
    assert session.file.wiring == "wirings/unnamed.yaml"
    assert open_session(session.folder).wiring() == wiring
    assert session.part("rhythm-left")


def test_a_wiring_that_contradicts_itself_is_not_chosen(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING)
    before = tree(session.folder)
    wrong = msgspec.structs.replace(session.wiring(), listen_outputs=(3,))
    with pytest.raises(UseError, match=r"'wrong', line .*listen"):
        session.choose_wiring(wrong, name="wrong")
    assert tree(session.folder) == before


def test_a_session_file_that_cannot_be_changed_leaves_the_choice_to_the_engineer(
    tmp_path: Path,
) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING)
    path = session.folder / "session.yaml"
    path.write_text(path.read_text().replace("wiring: w", "wiring: >-\n  w"))
    before = path.read_bytes()
    wiring = session.wiring()
    with pytest.raises(UseError, match=r"write this line .*: wiring: wirings/room\.yaml$"):
        session.choose_wiring(wiring, name="room")
    assert path.read_bytes() == before
    assert read_wiring(session.folder / "wirings/room.yaml") == wiring


def test_a_full_disk_chooses_no_wiring(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(opened, "write_new", full)
    with pytest.raises(UseError, match="wirings cannot be written: No space left on device; make"):
        session.choose_wiring(session.wiring(), name="room")
    assert open_session(session.folder) == session


# ------------------------------------------------------------------ when things go wrong


def test_a_source_that_changed_since_it_was_inspected_is_not_taken(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b")
    source, facts = recording(tmp_path / "x.wav")
    source.write_bytes(b"saved again")
    before = tree(session.folder)
    with pytest.raises(UseError, match="changed while it was read"):
        session.add_part(source=source, facts=facts)
    assert tree(session.folder) == before


def test_a_source_that_cannot_be_read_is_one_sentence(tmp_path: Path) -> None:
    session = create(tmp_path / "tide", name="a", song="b")
    source, facts = recording(tmp_path / "x.wav")
    source.unlink()
    with pytest.raises(UseError, match=r"x.wav cannot be read: .*put it back"):
        session.add_part(source=source, facts=facts)
    source.mkdir()
    with pytest.raises(UseError, match=r"x.wav cannot be read: .*name a file"):
        session.add_part(source=source, facts=facts)


def test_a_crash_between_copy_and_yaml_leaves_a_session_that_opens_and_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    monkeypatch.setattr(opened, "write_atomic", crash)
    with pytest.raises(CrashError):
        session.add_part(source=source, facts=facts)
    monkeypatch.undo()
    assert open_session(session.folder) == session
    again = session.add_part(source=source, facts=facts)
    assert again.part("hook")[1].revisions[0].file == "di/hook.r1.wav"
    assert sorted(p.name for p in (session.folder / "di").iterdir()) == [
        "hook.r1.wav",
        "rhythm-left.r1.wav",
    ]


def test_a_crash_then_another_file_of_that_name_overwrites_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    monkeypatch.setattr(opened, "write_atomic", crash)
    with pytest.raises(CrashError):
        session.add_part(source=source, facts=facts)
    monkeypatch.undo()
    source, facts = recording(tmp_path / "hook.wav", b"another take")
    session = session.add_part(source=source, facts=facts)
    assert session.part("hook")[1].revisions[0].file == "di/hook.r1-2.wav"
    assert (session.folder / "di" / "hook.r1.wav").read_bytes() == b"hook"
    assert (session.folder / "di" / "hook.r1-2.wav").read_bytes() == b"another take"


def test_a_crash_while_copying_leaves_no_half_file_under_a_real_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    monkeypatch.setattr(copying.platform, "name_new", crash)
    with pytest.raises(CrashError):
        session.add_part(source=source, facts=facts)
    monkeypatch.undo()
    assert [p.name for p in (session.folder / "di").iterdir()] == ["rhythm-left.r1.wav"]
    assert session.add_part(source=source, facts=facts).part("hook")


def test_a_full_disk_is_one_sentence_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    before = tree(session.folder)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(copying.platform, "sync_data", full)
    with pytest.raises(UseError, match="No space left on device; make room on the disk"):
        session.add_part(source=source, facts=facts)
    with pytest.raises(UseError, match="make room"):
        create(tmp_path / "b", name="a", song="b")
    assert tree(session.folder) == before
    assert not (tmp_path / "b").exists()


def test_a_session_that_may_not_be_written_opens_and_refuses_additions_plainly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    if AS_ROOT:  # root may write anywhere: say what the system says to others

        def refuse(path: Path) -> int:
            raise PermissionError(13, "Permission denied", str(path))

        monkeypatch.setattr(copying.platform, "create_new", refuse)
    else:
        for path in (session.folder / "di", session.folder):
            path.chmod(0o555)
    try:
        assert open_session(session.folder) == session
        with pytest.raises(
            UseError, match="cannot be written: Permission denied; ask for the right"
        ):
            session.add_part(source=source, facts=facts)
    finally:
        for path in (session.folder, session.folder / "di"):
            path.chmod(0o755)


def test_an_extension_that_cannot_be_written_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = session_with_a_part(tmp_path)
    source, facts = recording(tmp_path / "hook.wav", b"hook")
    before = (session.folder / "session.yaml").read_bytes()

    def refuse(path: Path, data: bytes | str) -> None:
        assert path.name == "session.yaml"
        assert data
        raise OSError(30, "Read-only file system")

    assert opened.write_atomic is write_atomic
    monkeypatch.setattr(opened, "write_atomic", refuse)
    with pytest.raises(UseError, match=r"session.yaml cannot be written: Read-only"):
        session.add_part(source=source, facts=facts)
    assert (session.folder / "session.yaml").read_bytes() == before


def test_all_paths_lie_inside_the_session() -> None:
    top = Path("s")
    one = layout.pass_folder(top, "rhythm-left", 7)
    assert one.as_posix() == "s/passes/rhythm-left/007"
    assert layout.pass_folder(top, "a", 1234).name == "1234"
    for path in (layout.order_json, layout.roll_json, layout.variant_json, layout.pass_lock):
        assert path(one).parent == one
    for path in (layout.session_yaml, layout.journal, layout.face_lock, layout.passes):
        assert path(top).parent == top
