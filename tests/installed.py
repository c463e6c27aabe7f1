"""The installed command, run as an engineer runs it, and what it leaves on disk."""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from playing import write_phrase

COMMAND = str(Path(sys.executable).with_name("secondpass"))
LONGEST_S = 120.0
"""A run that takes longer hangs."""

ROOM = """\
name: bench room
device:
  kind: simulated
  pace: free
  inputs: 6
  outputs: 4
  microphones: [{input: 2}, {input: 3, distance_cm: 150}]
sample_rate: 44100
send: {output: 3}
returns:
  - {name: close, input: 2}
  - {name: room, input: 3}
reference: close
listen: {outputs: [1, 2]}
click: {start_dbfs: -40, ceiling_dbfs: -12}
tail_s: 2
"""
"""A wiring of the simulated room, as fast as the machine can; its lines are numbered in tests."""


@dataclass(frozen=True)
class Ran:
    """How a run of the command ended."""

    code: int
    out: str
    err: str

    @property
    def lines(self) -> list[str]:
        return self.err.splitlines()


def environment(folder: Path, **more: str) -> dict[str, str]:
    """Return an environment whose temporary files lie in ``folder/tmp`` and whose terminal is plain."""
    (folder / "tmp").mkdir(exist_ok=True)
    kept = {key: value for key, value in os.environ.items() if key != "COLUMNS"}
    return kept | {"TMPDIR": str(folder / "tmp"), **more}


def run(*arguments: str, folder: Path, **more: str) -> Ran:
    """Run the command in `folder` to its end."""
    ended = subprocess.run(
        [COMMAND, *arguments],
        cwd=folder,
        env=environment(folder, **more),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        timeout=LONGEST_S,
        check=False,
    )
    return Ran(ended.returncode, ended.stdout.decode(), ended.stderr.decode())


class Running:
    """The command while it runs, in a process group of its own as a terminal would have it."""

    def __init__(self, *arguments: str, folder: Path) -> None:
        self._process = subprocess.Popen(
            [COMMAND, *arguments],
            cwd=folder,
            env=environment(folder),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
            text=True,
        )
        self._said = ""

    def wait_for(self, words: str) -> None:
        """Read what it says until a line has `words` in it."""
        assert self._process.stderr is not None
        for line in self._process.stderr:
            self._said += line
            if words in line:
                return
        raise AssertionError(f"it never said {words!r}, only: {self._said}")

    def interrupt(self) -> Ran:
        """Press Ctrl+C, as the terminal sends it to the whole group, and wait for the end."""
        os.killpg(self._process.pid, signal.SIGINT)
        out, err = self._process.communicate(timeout=LONGEST_S)
        return Ran(self._process.returncode, out, self._said + err)

    def close(self) -> None:
        if self._process.poll() is None:
            self._process.kill()
            self._process.communicate()


def make_bench(folder: Path) -> Path:
    """Make a folder with ``room.yaml``, real playing ``riff.wav``, and their session ``tonight``."""
    folder.mkdir()
    (folder / "room.yaml").write_text(ROOM)
    write_phrase(folder / "riff.wav", rate=44100, seconds=2.0, seed=3)
    made = run("new", "tonight", "--di", "riff.wav", "--wiring", "room.yaml", folder=folder)
    assert made.code == 0, made.err
    return folder


def copy_of(bench: Path, to: Path) -> Path:
    """Return a copy of a bench that a test may break."""
    return shutil.copytree(bench, to / "bench")


def listing(folder: Path) -> dict[str, str]:
    """Return every file below a folder with its checksum, and every folder."""
    return {
        path.relative_to(folder).as_posix(): _content(path) for path in sorted(folder.rglob("*"))
    }


def _content(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "folder"
