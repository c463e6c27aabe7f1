"""Python loads this by itself in every process of the program whose path leads here.

It watches what the process does to files of one folder, notes each operation, and kills the process (-9)
at the one it was told: before it, after it, or, for a write, with half of it written. Told to, it also
keeps what each file held whenever it was handed to the disk. The program knows nothing of it.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sys
import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

_NAMED = ("mkdir", "rmdir", "unlink", "rename", "replace", "link", "chmod")
_HELD = ("write", "fsync", "fdatasync", "ftruncate")
_TWO_NAMES = ("rename", "replace", "link")
_CHANGES = os.O_CREAT | os.O_WRONLY | os.O_RDWR
_RANDOM = re.compile(r"\.[0-9a-f]{12}\.tmp|\.[a-z0-9_]{8}\.new")


def role() -> str:
    """Return which of the program's processes this is."""
    words = " ".join(sys.orig_argv)
    if "audio.engine.process" in words:
        return "engine"
    return "worker" if "audio.work.process" in words else "face"


class Watch:
    """Counts operations by their kind and file, and kills at one of them."""

    def __init__(
        self, folder: str, *, notes: str | None, die_at: str | None, trace: str | None
    ) -> None:
        self._folder = os.path.realpath(folder) + os.sep
        self._role = role()
        self._counts: Counter[tuple[str, str]] = Counter()
        self._lock = threading.Lock()
        self._write, self._kill = os.write, os.kill
        self._notes = os.open(notes, os.O_WRONLY | os.O_APPEND | os.O_CREAT) if notes else None
        self._die_at = tuple(die_at.split("\t")) if die_at else None
        self._trace = trace

    def path_of(self, what: object) -> str | None:
        """Return a file's path within the folder, None for one elsewhere."""
        held = isinstance(what, int)
        path = os.readlink(f"/proc/self/fd/{what}") if held else os.fspath(what)  # noqa: PTH115 - see below
        text = os.path.abspath(os.fsdecode(path))  # noqa: PTH100 - what is watched must not watch
        inside = (text + os.sep).startswith(self._folder)
        return text[len(self._folder) :] if inside else None

    def trace(self, operation: str, path: str, *, to: str | None = None) -> None:
        """Keep what was done, and of what was handed to the disk all that it holds."""
        if self._trace is None:
            return
        whole, log = Path(self._folder + (to or path)), Path(self._trace, "operations")
        done = {"operation": operation, "path": path, "to": to, "inode": _inode(whole)}
        with self._lock, log.open("ab", buffering=0) as file:
            if operation in {"fsync", "fdatasync"} and whole.is_file():
                done["kept"] = f"{file.tell()}"
                shutil.copyfile(whole, log.with_name(done["kept"]))
            file.write(json.dumps(done).encode() + b"\n")

    def do(self, operation: str, path: str, act: Callable[[], Any], half: Callable[[], Any]) -> Any:
        """Note and do one operation, or die at it."""
        name = _RANDOM.sub(lambda found: found[0][-4:], path)
        with self._lock:
            self._counts[operation, name] += 1
            count = self._counts[operation, name]
            if self._notes is not None:
                line = f"{self._role}\t{operation}\t{name}\n"
                self._write(self._notes, line.encode())
        when = ""
        if self._die_at and self._die_at[:4] == (self._role, operation, name, str(count)):
            when = self._die_at[4]
        if when == "before":
            self._die()
        if when == "half":
            half()
            self._die()
        try:
            return act()
        finally:  # also where the system refused it
            if when == "after":
                self._die()

    def _die(self) -> None:
        self._kill(os.getpid(), signal.SIGKILL)


def _inode(path: Path) -> int | None:
    try:
        return path.lstat().st_ino
    except FileNotFoundError:
        return None


def watched_open(watch: Watch) -> Callable[..., int]:
    """Return what opens a file in place of `os.open`."""
    plain = os.open

    def opened(path: Any, flags: int, *rest: Any, **more: Any) -> int:
        def act() -> int:
            return plain(path, flags, *rest, **more)

        name = watch.path_of(path) if flags & _CHANGES and not isinstance(path, int) else None
        if name is None:
            return act()
        fd = int(watch.do("open", name, act, act))
        watch.trace("open", name)
        return fd

    return opened


def watched(watch: Watch, operation: str) -> Callable[..., Any]:
    """Return what does another operation in place of the system's own."""
    plain: Callable[..., Any] = getattr(os, operation)

    def wrapped(what: Any, *rest: Any, **more: Any) -> Any:
        def act() -> Any:
            return plain(what, *rest, **more)

        def half() -> None:
            if operation == "write":
                plain(what, bytes(rest[0])[: len(rest[0]) // 2])

        name = watch.path_of(what)
        if name is None:
            return act()
        result = watch.do(operation, name, act, half)
        to = watch.path_of(rest[0]) if operation in _TWO_NAMES else None
        watch.trace(operation, name, to=to)
        return result

    return wrapped


if "SECONDPASS_KILLS_FOLDER" in os.environ:
    this = Watch(
        os.environ["SECONDPASS_KILLS_FOLDER"],
        notes=os.environ.get("SECONDPASS_KILLS_NOTES"),
        die_at=os.environ.get("SECONDPASS_KILLS_AT"),
        trace=os.environ.get("SECONDPASS_KILLS_TRACE"),
    )
    os.open = watched_open(this)
    for one in (*_NAMED, *_HELD):
        setattr(os, one, watched(this, one))
