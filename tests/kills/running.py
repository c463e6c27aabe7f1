"""Running the program with a watch in each of its processes, and killing one of them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from kills.points import AtOperation, AtTime, Moment

COMMAND = str(Path(sys.executable).with_name("secondpass"))
_HOOK = Path(__file__).parent / "hook"

LIMIT_S = 90.0
"""A command that takes longer hangs."""
ORPHANED_S = 30.0
"""Processes that outlive the command by more are left behind: an engine may finish its pass."""
_LOOK_S = 0.004


@dataclass(frozen=True)
class Ran:
    """What one command did."""

    code: int | None
    """Exit code; negative when killed, None when it hung."""
    out: str
    said: str
    seconds: float
    left_behind: int
    """Processes that had to be ended."""


def run(
    words: list[str],
    folder: Path,
    *,
    program: tuple[str, ...] = (),
    notes: Path | None = None,
    trace: Path | None = None,
    die: Moment | None = None,
) -> Ran:
    """Run one command to its end, whoever of its processes dies, and wait for all of them.

    Parameters
    ----------
    words
        What follows the program's name.
    folder
        Only operations on files in it are noted and counted; also what the processes are told by.
    program
        What is run; ``secondpass`` when left out.
    notes
        File to which every operation is noted.
    trace
        Folder in which is kept what was done, and what files held whenever they were handed to the disk.
    die
        Who is killed, and when.
    """
    environment = os.environ | {
        "PYTHONPATH": str(_HOOK),
        "SECONDPASS_KILLS_FOLDER": str(folder),
        "TMPDIR": str(scratch(folder)),
    }
    if notes is not None:
        environment["SECONDPASS_KILLS_NOTES"] = str(notes)
    if trace is not None:
        environment["SECONDPASS_KILLS_TRACE"] = str(trace)
    if isinstance(die, AtOperation):
        environment["SECONDPASS_KILLS_AT"] = die.told
    began = time.monotonic()
    face = subprocess.Popen(
        [*(program or (COMMAND,)), *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        env=environment,
    )
    if isinstance(die, AtTime):
        _kill_at(die, face, folder, began)
    try:
        out, said = face.communicate(timeout=LIMIT_S)
        code: int | None = face.returncode
    except subprocess.TimeoutExpired:
        face.kill()
        out, said = face.communicate()
        code = None
    seconds = time.monotonic() - began
    return Ran(code, out, said, seconds, _end_what_is_left(folder))


def scratch(folder: Path) -> Path:
    """Return where the processes of a run put what they throw away."""
    beside = folder.with_name(f"{folder.name}.scratch")
    beside.mkdir(exist_ok=True)
    return beside


def _kill_at(die: AtTime, face: subprocess.Popen[str], folder: Path, began: float) -> None:
    """Kill from outside once it is time and the process is there, unless the command ends before."""
    while face.poll() is None:
        if time.monotonic() - began >= die.seconds:
            pids = _of_role(die.role, face.pid, folder)
            for pid in pids:
                _signal(pid, signal.SIGSTOP)  # at once: none sees another one go
            for pid in pids:
                _signal(pid, signal.SIGKILL)
            if pids:
                return
        time.sleep(_LOOK_S)


def _of_role(role: str, face: int, folder: Path) -> list[int]:
    if role == "face":
        return [face]
    ours = processes_of(folder)
    if role == "all":
        return ours
    return [pid for pid in ours if _runs(pid, f"audio.{_module(role)}.process")]


def _module(role: str) -> str:
    return "work" if role == "worker" else role


def _runs(pid: int, module: str) -> bool:
    with suppress(OSError):
        return module.encode() in Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    return False


def processes_of(folder: Path) -> list[int]:
    """Return every living process that was started for a folder."""
    mark = f"SECONDPASS_KILLS_FOLDER={folder}".encode()
    found = []
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        with suppress(OSError):
            if mark in (entry / "environ").read_bytes().split(b"\0"):
                found.append(int(entry.name))
    return found


def _end_what_is_left(folder: Path) -> int:
    until = time.monotonic() + ORPHANED_S
    while (left := processes_of(folder)) and time.monotonic() < until:
        time.sleep(0.02)
    for pid in left:
        _signal(pid, signal.SIGKILL)
    return len(left)


def _signal(pid: int, number: int) -> None:
    with suppress(ProcessLookupError):
        os.kill(pid, number)
