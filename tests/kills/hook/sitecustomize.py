"""Python loads this by itself in every process of the program whose path leads here.

It watches what the process does to files of one folder, notes each operation, and kills the process (-9)
at the one it was told: before it, after it, or, for a write, with half of it written. The program knows
nothing of it.
"""

from __future__ import annotations

import os
import re
import signal
import sys
import threading
from collections import Counter
from collections.abc import Callable
from typing import Any

_NAMED = ("mkdir", "rmdir", "unlink", "rename", "replace", "link", "chmod")
_HELD = ("write", "fsync", "fdatasync", "ftruncate")
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

    def __init__(self, folder: str, *, notes: str | None, die_at: str | None) -> None:
        self._folder = os.path.realpath(folder) + os.sep
        self._role = role()
        self._counts: Counter[tuple[str, str]] = Counter()
        self._lock = threading.Lock()
        self._write, self._kill = os.write, os.kill
        self._notes = os.open(notes, os.O_WRONLY | os.O_APPEND | os.O_CREAT) if notes else None
        self._die_at = tuple(die_at.split("\t")) if die_at else None

    def name_of(self, what: object) -> str | None:
        """Return a file's name within the folder, None for one elsewhere."""
        held = isinstance(what, int)
        path = os.readlink(f"/proc/self/fd/{what}") if held else os.fspath(what)  # noqa: PTH115 - see below
        text = os.path.abspath(os.fsdecode(path))  # noqa: PTH100 - what is watched must not watch
        if not text.startswith(self._folder):
            return None
        return _RANDOM.sub(lambda found: found[0][-4:], text[len(self._folder) :])

    def do(self, operation: str, name: str, act: Callable[[], Any], half: Callable[[], Any]) -> Any:
        """Note and do one operation, or die at it."""
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
        result = act()
        if when == "after":
            self._die()
        return result

    def _die(self) -> None:
        self._kill(os.getpid(), signal.SIGKILL)


def install(watch: Watch) -> None:
    """Put the watch in front of what changes files."""
    plain: dict[str, Callable[..., Any]] = {n: getattr(os, n) for n in ("open", *_NAMED, *_HELD)}

    def opened(path: Any, flags: int, *rest: Any, **more: Any) -> int:
        def act() -> int:
            return int(plain["open"](path, flags, *rest, **more))

        name = watch.name_of(path) if flags & _CHANGES and not isinstance(path, int) else None
        return act() if name is None else int(watch.do("open", name, act, act))

    def about(operation: str) -> Callable[..., Any]:
        def wrapped(what: Any, *rest: Any, **more: Any) -> Any:
            def act() -> Any:
                return plain[operation](what, *rest, **more)

            def half() -> None:
                if operation == "write":
                    plain["write"](what, bytes(rest[0])[: len(rest[0]) // 2])

            name = watch.name_of(what)
            return act() if name is None else watch.do(operation, name, act, half)

        return wrapped

    os.open = opened
    for operation in (*_NAMED, *_HELD):
        setattr(os, operation, about(operation))


if "SECONDPASS_KILLS_FOLDER" in os.environ:
    install(
        Watch(
            os.environ["SECONDPASS_KILLS_FOLDER"],
            notes=os.environ.get("SECONDPASS_KILLS_NOTES"),
            die_at=os.environ.get("SECONDPASS_KILLS_AT"),
        )
    )
