"""Locks across handles and processes."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from audio.files.lock import FileLock, is_held
from audio.vocab.errors import UseError

HOLD = """
import sys
from pathlib import Path
from audio.files.lock import FileLock
lock = FileLock(Path(sys.argv[1]))
lock.acquire("the engine, pass 7")
print("held", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def holder(tmp_path: Path) -> Iterator[subprocess.Popen[bytes]]:
    command = [sys.executable, "-c", HOLD, str(tmp_path / "lock")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"held\n"
        yield child
        child.kill()


@pytest.mark.usefixtures("holder")
def test_a_lock_of_another_process_is_refused_naming_the_holder(tmp_path: Path) -> None:
    assert is_held(tmp_path / "lock")
    with pytest.raises(UseError, match="in use by the engine, pass 7"):
        FileLock(tmp_path / "lock").acquire("me")
    assert (tmp_path / "lock").read_text() == "the engine, pass 7"


def test_a_lock_ends_when_its_process_is_killed(tmp_path: Path, holder) -> None:
    holder.kill()
    holder.wait()
    assert not is_held(tmp_path / "lock")
    with FileLock(tmp_path / "lock") as lock:
        lock.acquire("me")
        assert (tmp_path / "lock").read_text() == "me"


def test_a_second_handle_of_one_process_is_refused(tmp_path: Path) -> None:
    first, second = FileLock(tmp_path / "lock"), FileLock(tmp_path / "lock")
    first.acquire("the face")
    with pytest.raises(UseError, match="the face"):
        second.acquire("another face")
    first.release()
    second.acquire("another face")
    second.release()


def test_readers_see_held_and_released(tmp_path: Path) -> None:
    lock = FileLock(tmp_path / "lock")
    assert not is_held(tmp_path / "lock")
    lock.acquire("me")
    assert is_held(tmp_path / "lock")
    lock.release()
    assert not is_held(tmp_path / "lock")
    assert (tmp_path / "lock").read_text() == ""


def test_leaving_the_block_releases_even_after_an_error(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), FileLock(tmp_path / "lock") as lock:  # noqa: PT012
        lock.acquire("me")
        raise RuntimeError
    assert not is_held(tmp_path / "lock")


def test_releasing_what_is_not_held_does_nothing(tmp_path: Path) -> None:
    lock = FileLock(tmp_path / "lock")
    lock.release()
    assert not (tmp_path / "lock").exists()


def test_a_shorter_holder_leaves_nothing_of_a_longer_one(tmp_path: Path) -> None:
    (tmp_path / "lock").write_text("a holder that was killed and left its long name")
    with FileLock(tmp_path / "lock") as lock:
        lock.acquire("me")
        assert (tmp_path / "lock").read_text() == "me"


def test_a_folder_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UseError, match=r"cannot lock .*No such file"):
        FileLock(tmp_path / "gone" / "lock").acquire("me")


def test_a_refused_lock_leaks_no_descriptor(tmp_path: Path) -> None:
    with FileLock(tmp_path / "lock") as lock:
        lock.acquire("me")
        lowest_free = os.dup(0)
        os.close(lowest_free)
        with pytest.raises(UseError):
            FileLock(tmp_path / "lock").acquire("other")
        again = os.dup(0)
        os.close(again)
        assert again == lowest_free
