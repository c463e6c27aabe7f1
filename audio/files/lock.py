"""Locks held on a file, which end with the process that holds them.

The file stays after release: removing it would let two holders lock two files of one name.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Self

from audio.files import platform
from audio.vocab.errors import UseError

_TRIES = 5
_BETWEEN_S = 0.01
"""A reader in `is_held` keeps the lock for some microseconds: that is no holder."""


class FileLock:
    """One exclusive lock; the text of its holder stands in the file while it is held.

    Parameters
    ----------
    path
        The lock file, made if missing; its folder must exist.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._fd: int | None = None

    def acquire(self, holder: str) -> None:
        """Take the lock.

        Parameters
        ----------
        holder
            One line that tells an engineer who has it, such as ``secondpass, process 4711``.

        Raises
        ------
        UseError
            If it is taken, naming the holder, or if the file cannot be opened.
        """
        fd = self._open()
        if not _insist(fd):
            who = _holder(fd)
            os.close(fd)
            raise UseError(
                f"{self._path.parent} is in use by {who}; "
                "close it there first, or wait until it has finished"
            )
        self._fd = fd
        os.ftruncate(fd, 0)
        os.lseek(fd, 0, os.SEEK_SET)
        os.write(fd, holder.encode())

    def release(self) -> None:
        """Give the lock back; nothing happens if it is not held."""
        if self._fd is None:
            return
        fd, self._fd = self._fd, None
        os.ftruncate(fd, 0)
        os.close(fd)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()

    def _open(self) -> int:
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0)
        try:
            return os.open(self._path, flags, 0o666)
        except OSError as error:
            raise UseError(
                f"cannot lock {self._path}: {error.strerror}; "
                "make its folder writable, or copy it to a disk that is"
            ) from error


def is_held(path: Path) -> bool:
    """Return whether any process, or another handle of this one, holds the lock at `path`."""
    try:
        fd = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        return False
    try:
        return not platform.lock_shared(fd)
    finally:
        os.close(fd)


def holder(path: Path) -> str:
    """Return what the newest holder of the lock at `path` wrote; empty once it was released."""
    return path.read_text(encoding="utf-8", errors="replace")


def _insist(fd: int) -> bool:
    for left in reversed(range(_TRIES)):
        if platform.lock_alone(fd):
            return True
        if left:
            time.sleep(_BETWEEN_S)
    return False


def _holder(fd: int) -> str:
    os.lseek(fd, 0, os.SEEK_SET)
    return os.read(fd, 1000).decode(errors="replace") or "another process"
