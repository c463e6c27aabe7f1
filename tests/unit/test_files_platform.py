"""What differs between systems, as far as it can run here; and what the lean processes may import."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from audio.files import platform


def test_free_space_is_that_of_the_disk_also_for_a_path_to_come(tmp_path: Path) -> None:
    there = platform.free_bytes(tmp_path)
    to_come = platform.free_bytes(tmp_path / "not" / "yet" / "made")
    block = os.statvfs(tmp_path)
    assert abs(there - block.f_bavail * block.f_frsize) < 2**30
    assert abs(there - to_come) < 2**30


def test_being_nice_lowers_the_priority_of_that_process_only() -> None:
    code = "import os; from audio.files import platform; platform.be_nice(); print(os.nice(0))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert int(out.stdout) == min(19, os.nice(0) + 10)


def test_what_two_processes_share_lies_on_no_disk() -> None:
    kinds = dict(line.split()[1:3] for line in Path("/proc/mounts").read_text().splitlines())
    assert kinds[str(platform.memory_folder())] == "tmpfs"


def test_a_file_is_created_only_where_none_is(tmp_path: Path) -> None:
    os.close(platform.create_new(tmp_path / "a"))
    with pytest.raises(FileExistsError):
        platform.create_new(tmp_path / "a")


def test_text_lock_platform_and_headers_load_no_arithmetic() -> None:
    code = (
        "import sys, audio.files\n"
        "from audio.files import chunks, lock, platform, text, wave\n"
        "print(sorted({'numpy', 'scipy', 'soundfile', 'msgspec'} & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert out.stdout.strip() == "[]"
