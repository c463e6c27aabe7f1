"""A pass by the clock in the simulated room, with room for accidents: used by several tests."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playing import write_phrase

COMMAND = Path(sys.executable).with_name("secondpass")

WIRING = """
name: simulated
device:
  kind: simulated
  pace: clock
  inputs: 4
  outputs: 4
  microphones: [{input: 2, cabinet: none}, {input: 3, cabinet: none, distance_cm: 150}]
  amp: {clean: true}
  noise_dbfs: -90
sample_rate: 48000
send: {output: 3}
returns: [{name: close, input: 2}, {name: room, input: 3}]
reference: close
"""


class Evening:
    """A session with one part, and the command that plays it."""

    def __init__(self, folder: Path, *, seconds: float, wiring: str = WIRING) -> None:
        self.session = folder / "evening"
        text = folder / "wiring.yaml"
        text.write_text(wiring)
        di = write_phrase(folder / "riff.wav", rate=48_000, seconds=seconds, seed=4)
        self.run("new", self.session, "--di", di, "--wiring", text)

    @property
    def takes(self) -> Path:
        return self.session / "passes" / "riff"

    def run(self, *words: object, ok: tuple[int, ...] = (0,)) -> dict[str, Any]:
        done = subprocess.run(
            [COMMAND, *map(str, words), "--json"],
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode in ok, done.stderr
        assert "Traceback" not in done.stderr
        self.said = done.stderr
        value: dict[str, Any] = json.loads(done.stdout or "{}")
        return value

    def passed(self, ok: tuple[int, ...] = (0,)) -> dict[str, Any]:
        return self.run("pass", self.session, "--part", "riff", "--chain", "plain", ok=ok)

    def start(self) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [COMMAND, "pass", self.session, "--part", "riff", "--chain", "plain", "--json"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def wait_recording(self, number: int, *, seconds: float = 0.5) -> None:
        """Wait until so much of the DI has been recorded."""
        folder = self.takes / f"{number:03d}"

        def there() -> bool:
            takes = list(folder.glob("riff_*.wav"))
            return len(takes) == 2 and takes[0].stat().st_size > 4096 + 3 * 48_000 * seconds

        wait_for(there, "the DI did not roll")


@contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """Mount a disk of 100 MB of its own, which only root can."""
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=100m", "tmpfs", str(folder)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode != 0:
        if os.environ.get("CI") == "true":
            pytest.fail("with CI=true a disk must be mountable: run as root")
        pytest.skip("mounting a small disk needs root")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def fill(disk: Path) -> Path:
    """Fill a small disk up; return what to remove to make room again."""
    ballast = disk / "ballast"
    with pytest.raises(OSError, match="No space"):
        ballast.write_bytes(bytes(200 << 20))
    return ballast


def wait_for(what: Callable[[], bool], why: str, limit_s: float = 90.0) -> None:
    """Wait for something another process does; it has no event to offer."""
    end = time.monotonic() + limit_s
    while not what():
        assert time.monotonic() < end, why
        time.sleep(0.01)


def engine_of(face: subprocess.Popen[str]) -> int:
    """Return the process id of a face's engine."""
    return engine_under(face.pid)


def engine_under(face_pid: int) -> int:
    """Return the process id of the engine that a face has started."""
    found: list[int] = []

    def there() -> bool:
        asked = subprocess.run(
            ["pgrep", "-P", str(face_pid), "-f", "audio.engine.process"],
            capture_output=True,
            text=True,
            check=False,
        )
        found.extend(int(pid) for pid in asked.stdout.split())
        return bool(found)

    wait_for(there, "no engine came up")
    return found[0]


def is_gone(pid: int) -> bool:
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except (FileNotFoundError, ProcessLookupError):
        return True
    return stat.rpartition(")")[2].split()[0] == "Z"
