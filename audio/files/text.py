"""Small files written so that a crash leaves the old content or the new, never half of either."""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from audio.files import platform
from audio.vocab.errors import UseError

LARGEST_BYTES = 64_000_000
"""A journal of a hundred thousand passes is smaller; a larger file is something else."""


def read_whole(path: Path) -> bytes:
    """Return all of a small file; `OSError` if it cannot be read.

    Parameters
    ----------
    path
        The file; whatever else lies there is not waited for.

    Returns
    -------
    bytes
        Its content.

    Raises
    ------
    UseError
        If it is a device, a pipe or the like, or larger than `LARGEST_BYTES`.
    """
    with platform.open_at_once(path) as file:
        looked_at(path, file)
        return file.read()


def looked_at(path: Path, file: BinaryIO) -> os.stat_result:
    """Return what an open file is; `UseError` where it cannot be a small one, as `read_whole` says."""
    about = os.fstat(file.fileno())
    if not stat.S_ISREG(about.st_mode):
        raise UseError(f"{path} is a device or a pipe, no file; put the file back in its place")
    if about.st_size > LARGEST_BYTES:
        raise UseError(
            f"{path} is larger than it can be ({about.st_size} bytes); restore it from a copy"
        )
    return about


def write_atomic(path: Path, data: bytes | str) -> None:
    """Write a file, replacing the one that is there in one step.

    `OSError` if that fails: the old file is untouched then and nothing else is left behind.

    Parameters
    ----------
    path
        Where; its folder must exist.
    data
        The whole content; text is written as UTF-8, line ends as they are.
    """
    _write(path, data, name=lambda temporary: temporary.replace(path))


def write_new(path: Path, data: bytes | str) -> None:
    """Write a file that must not exist yet; it appears whole or not at all.

    `OSError` if it cannot be written: nothing is left behind then.

    Parameters
    ----------
    path
        Where; its folder must exist.
    data
        The whole content; text is written as UTF-8, line ends as they are.

    Raises
    ------
    FileExistsError
        If there is anything at `path` already but a file without content; it is untouched.
    """
    if platform.is_taken(path):
        raise FileExistsError(f"{path} exists already")
    _write(path, data, name=lambda temporary: platform.name_new(temporary, path))


class Reserved:
    """A file whose room on the disk is taken before its content is known.

    Until it is written it lies beside its place under another, hidden name; one that a dead process left
    there is replaced. `OSError` if there is no room.

    Parameters
    ----------
    path
        Where it will be; its folder must exist.
    size
        Bytes that will fit whatever happens to the disk meanwhile, on file systems that overwrite a
        file where it lies.
    """

    def __init__(self, path: Path, *, size: int) -> None:
        self._path = path
        self._hidden = reserved_name(path)
        self._hidden.unlink(missing_ok=True)
        self._fd = platform.create_new(self._hidden)
        try:
            _write_all(self._fd, bytes(size))
            platform.sync_data(self._fd)
        except OSError:
            self.drop()
            raise

    def write(self, data: bytes) -> None:
        """Give the file its content and its name, in one step; what was there is replaced.

        `OSError` if that fails: nothing is left behind then.
        """
        try:
            os.lseek(self._fd, 0, os.SEEK_SET)
            _write_all(self._fd, data)
            os.ftruncate(self._fd, len(data))
            platform.sync_data(self._fd)
            os.close(self._fd)
            self._hidden.replace(self._path)
        except OSError:
            self.drop()
            raise
        platform.sync_folder(self._path.parent)

    def drop(self) -> None:
        """Give the room back."""
        with contextlib.suppress(OSError):
            os.close(self._fd)
        self._hidden.unlink(missing_ok=True)


def reserved_name(path: Path) -> Path:
    """Return where the room of a file is kept until it is written."""
    return path.with_name(f".{path.name}.reserved")


def append_line(path: Path, line: str) -> None:
    """Append one line to a file, made if missing, and wait until it has reached the disk.

    If the file ends in a torn line (its writer died), that line is ended first, so the new one
    stands alone. `OSError` if it cannot be written: a torn line may be left, which the next call ends.

    Parameters
    ----------
    path
        Where; its folder must exist.
    line
        Text without a line end.

    Raises
    ------
    ValueError
        If `line` holds a line end.
    """
    if "\n" in line or "\r" in line:
        raise ValueError("one call appends one line")
    existed = path.exists()
    flags = os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0)
    fd = os.open(path, flags, 0o666)
    try:
        start = "" if _ends_a_line(fd) else "\n"
        _write_all(fd, f"{start}{line}\n".encode())
        platform.sync_data(fd)
    finally:
        os.close(fd)
    if not existed:
        platform.sync_folder(path.parent)


def _write(path: Path, data: bytes | str, *, name: Callable[[Path], object]) -> None:
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(6)}.tmp")
    try:
        fd = platform.create_new(temporary)
        try:
            _write_all(fd, data.encode() if isinstance(data, str) else data)
            platform.sync_data(fd)
        finally:
            os.close(fd)
        name(temporary)
    finally:
        temporary.unlink(missing_ok=True)
    platform.sync_folder(path.parent)


def _write_all(fd: int, data: bytes) -> None:
    left = memoryview(data)
    while left:
        left = left[os.write(fd, left) :]


def _ends_a_line(fd: int) -> bool:
    size = os.fstat(fd).st_size
    if size == 0:
        return True
    os.lseek(fd, size - 1, os.SEEK_SET)
    return os.read(fd, 1) == b"\n"
