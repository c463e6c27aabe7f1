"""A session folder appears whole, opens, and loses nothing when things go wrong."""

import os
from pathlib import Path

import pytest
from session_cases import WIRING_TEXT, CrashError, crash, recording, session_with_a_part, tree

from audio.files.text import write_atomic
from audio.session import copying, layout, opened
from audio.session.folder import create, open_session
from audio.vocab.errors import UseError
from audio.vocab.wiring_text import wiring_text

AS_ROOT = os.geteuid() == 0 if hasattr(os, "geteuid") else False


# ------------------------------------------------------------------ making and opening


def test_a_new_session_is_a_folder_that_opens_to_the_same_value(tmp_path: Path) -> None:
    made = create(
        tmp_path / "tide",
        name="tide",
        song="low: tide",
        bpm=92.5,
        metre="6/8",
        wiring_text=WIRING_TEXT,
    )
    assert open_session(tmp_path / "tide") == made
    song = made.file.songs[0]
    assert (song.name, song.bpm, song.metre, song.parts) == ("low: tide", 92.5, "6/8", ())
    assert (tmp_path / "tide" / "wiring.yaml").read_text() == WIRING_TEXT
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
        create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING_TEXT)
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
    session = create(tmp_path / "tide", name="a", song="b", wiring_text=WIRING_TEXT)
    (session.folder / "wiring.yaml").unlink()
    with pytest.raises(UseError, match=r"wiring.yaml: there is no such file"):
        session.wiring()


def test_a_written_wiring_is_one_a_session_takes(tmp_path: Path) -> None:
    session = create(tmp_path / "a", name="a", song="b", wiring_text=WIRING_TEXT)
    again = create(tmp_path / "b", name="a", song="b", wiring_text=wiring_text(session.wiring()))
    assert again.wiring() == session.wiring()


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
