"""Atomic text: whole or not at all, whatever happens."""

from __future__ import annotations

import errno
import os
import resource
import signal
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from accidents import fill, small_disk

from audio.files.text import Reserved, append_line, reserved_name, write_atomic, write_new


def names(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


@contextmanager
def disk_full_after(size: int) -> Iterator[None]:
    """Let no file of this process grow past `size` bytes, pytest's own report included: not for long."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("links", [True, False], ids=["hard links", "none"])
def test_a_name_that_a_crash_left_empty_is_free(
    tmp_path: Path, monkeypatch, *, links: bool
) -> None:
    (tmp_path / "a.json").touch()
    if not links:
        monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(OSError("no hard links")))
    write_new(tmp_path / "a.json", "whole")
    assert (tmp_path / "a.json").read_text() == "whole"
    with pytest.raises(FileExistsError):
        write_new(tmp_path / "a.json", "again")
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]


@pytest.mark.parametrize("write", [write_atomic, write_new])
def test_what_was_written_is_read_back(tmp_path: Path, write) -> None:
    write(tmp_path / "a.json", "Größe\n")
    write(tmp_path / "b.bin", b"\0\xff\r\n")
    assert (tmp_path / "a.json").read_bytes() == "Größe\n".encode()
    assert (tmp_path / "b.bin").read_bytes() == b"\0\xff\r\n"


def test_writing_again_replaces_the_content(tmp_path: Path) -> None:
    write_atomic(tmp_path / "a", "old, and longer")
    write_atomic(tmp_path / "a", "new")
    assert (tmp_path / "a").read_text() == "new"
    assert names(tmp_path) == ["a"]


def test_a_new_file_never_replaces_one(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("evidence")
    with pytest.raises(FileExistsError, match="exists already"):
        write_new(tmp_path / "a", "other")
    assert (tmp_path / "a").read_text() == "evidence"
    assert names(tmp_path) == ["a"]


def test_a_new_file_never_replaces_one_made_meanwhile(tmp_path: Path, monkeypatch) -> None:
    (tmp_path / "a").write_text("evidence")
    monkeypatch.setattr(os.path, "lexists", lambda _: False)
    with pytest.raises(FileExistsError):
        write_new(tmp_path / "a", "other")
    assert (tmp_path / "a").read_text() == "evidence"
    assert names(tmp_path) == ["a"]


def test_a_new_file_never_follows_a_dangling_link(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(FileExistsError):
        write_new(tmp_path / "a", "other")
    assert not (tmp_path / "elsewhere").exists()


def test_new_files_work_where_the_disk_knows_no_hard_links(tmp_path: Path, monkeypatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(errno.EPERM, "as exFAT answers")

    monkeypatch.setattr(os, "link", refuse)
    write_new(tmp_path / "a", "first")
    with pytest.raises(FileExistsError):
        write_new(tmp_path / "a", "second")
    assert (tmp_path / "a").read_text() == "first"
    assert names(tmp_path) == ["a"]


@pytest.mark.parametrize("write", [write_atomic, write_new])
def test_a_full_disk_leaves_no_file_behind(tmp_path: Path, write) -> None:
    with pytest.raises(OSError, match="too large"), disk_full_after(4096):
        write(tmp_path / "a", "x" * 4097)
    assert names(tmp_path) == []


def test_a_full_disk_leaves_the_old_content(tmp_path: Path) -> None:
    write_atomic(tmp_path / "a", "old")
    with pytest.raises(OSError, match="too large"), disk_full_after(4096):
        write_atomic(tmp_path / "a", "x" * 4097)
    assert (tmp_path / "a").read_text() == "old"
    assert names(tmp_path) == ["a"]


def test_a_name_taken_by_a_folder_leaves_nothing_behind(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    with pytest.raises(IsADirectoryError):
        write_atomic(tmp_path / "a", "x")
    assert names(tmp_path) == ["a"]


@pytest.mark.parametrize(("umask", "mode"), [(0o022, 0o644), (0o077, 0o600), (0o002, 0o664)])
@pytest.mark.parametrize("write", [write_atomic, write_new, append_line])
def test_the_mode_follows_the_umask(tmp_path: Path, write, umask: int, mode: int) -> None:
    before = os.umask(umask)
    try:
        write(tmp_path / "a", "x")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == mode


REWRITE_FOR_EVER = """
import sys
from pathlib import Path
from audio.files.text import write_atomic
path = Path(sys.argv[1])
while True:
    for letter, length in (("a", 50_000), ("b", 200_000)):
        write_atomic(path, letter * length)
        print(letter, flush=True)
"""


def test_a_writer_killed_at_any_moment_leaves_one_whole_version(tmp_path: Path) -> None:
    path = tmp_path / "state.json"
    whole = {"a" * 50_000, "b" * 200_000}
    for rewrites in (1, 2, 5, 8):
        with subprocess.Popen(
            [sys.executable, "-c", REWRITE_FOR_EVER, str(path)], stdout=subprocess.PIPE
        ) as child:
            assert child.stdout is not None
            for _ in range(rewrites):
                child.stdout.readline()
                assert path.read_text() in whole
            child.send_signal(signal.SIGKILL)
        assert path.read_text() in whole


def test_lines_are_appended_in_order(tmp_path: Path) -> None:
    for line in ("one", "", "drei ü"):
        append_line(tmp_path / "j", line)
    assert (tmp_path / "j").read_text() == "one\n\ndrei ü\n"


def test_a_torn_line_is_ended_before_the_next(tmp_path: Path) -> None:
    (tmp_path / "j").write_text('{"a": 1}\n{"b":')
    append_line(tmp_path / "j", '{"c": 3}')
    assert (tmp_path / "j").read_text() == '{"a": 1}\n{"b":\n{"c": 3}\n'


@pytest.mark.parametrize("line", ["a\nb", "a\n", "a\rb"])
def test_more_than_one_line_is_refused(tmp_path: Path, line: str) -> None:
    with pytest.raises(ValueError, match="one line"):
        append_line(tmp_path / "j", line)
    assert not (tmp_path / "j").exists()


def test_a_line_torn_by_a_full_disk_spoils_no_other(tmp_path: Path) -> None:
    append_line(tmp_path / "j", "whole")
    with pytest.raises(OSError, match="too large"), disk_full_after(8):
        append_line(tmp_path / "j", "cut off")
    append_line(tmp_path / "j", "after")
    assert (tmp_path / "j").read_text() == "whole\ncu\nafter\n"


# ------------------------------------------------------------------ room taken beforehand


def test_a_reserved_file_takes_its_room_and_appears_whole_when_it_is_written(
    tmp_path: Path,
) -> None:
    path = tmp_path / "roll.json"
    reserved = Reserved(path, size=5000)
    assert not path.exists()
    assert reserved_name(path).stat().st_size == 5000
    reserved.write(b"content")
    assert path.read_bytes() == b"content"
    assert [one.name for one in tmp_path.iterdir()] == ["roll.json"]


def test_more_than_was_reserved_is_written_too(tmp_path: Path) -> None:
    Reserved(tmp_path / "a", size=3).write(b"longer than that")
    assert (tmp_path / "a").read_bytes() == b"longer than that"


def test_the_room_a_dead_process_kept_is_taken_over_and_can_be_given_back(tmp_path: Path) -> None:
    path = tmp_path / "roll.json"
    reserved_name(path).write_bytes(b"left behind")
    Reserved(path, size=10).drop()
    assert list(tmp_path.iterdir()) == []


def test_a_reserved_file_is_written_on_a_disk_that_is_full_by_then(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk") as disk:
        reserved = Reserved(disk / "roll.json", size=1 << 16)
        fill(disk)
        with pytest.raises(OSError, match="No space"):
            Reserved(disk / "other", size=1 << 16)
        reserved.write(b"x" * 60_000)
        assert (disk / "roll.json").stat().st_size == 60_000
        assert not reserved_name(disk / "other").exists()
