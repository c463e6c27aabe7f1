"""Everything that differs between operating systems, in one place.

Only the Linux branches have run. The macOS branches (``F_FULLFSYNC``, ``LOCAL_PEERCRED``) and the Windows
branches (``msvcrt`` locks, priority class, folders that cannot be synced) are written from their manuals
and have never been executed.
"""

from __future__ import annotations

import contextlib
import mmap
import os
import select
import shutil
import socket
import stat
import struct
import sys
import tempfile
from pathlib import Path
from typing import BinaryIO

if sys.platform == "win32":
    import ctypes
    import msvcrt
else:
    import fcntl

_LOCKED_BYTE = 1 << 30
"""Windows locks bytes against reading, too: lock one that no text ever reaches."""


def free_bytes(path: Path) -> int:
    """Return the bytes this user may still write where `path` lies or will lie."""
    there = path.absolute()
    while not there.exists():
        there = there.parent
    return shutil.disk_usage(there).free


def memory_folder() -> Path:
    """Return where a file shared by two processes lies in memory only, where the system has such a place.

    A page of a file on a disk may be held while the disk is written to, and whoever touches it waits.
    """
    shared = Path("/dev/shm")  # noqa: S108 - a new folder of our own is made in it
    return shared if os.access(shared, os.W_OK) else Path(tempfile.gettempdir())


def open_at_once(path: Path) -> BinaryIO:
    """Open a file for reading; a pipe is not waited for until somebody writes to it."""
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    fd = os.open(path, flags)
    try:
        return os.fdopen(fd, "rb")
    except BaseException:  # of a folder
        os.close(fd)
        raise


def create_new(path: Path) -> int:
    """Create a file and return a descriptor to read and write it; its mode follows the umask.

    `FileExistsError` if there is anything at `path` already, which is not touched then.
    """
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    return os.open(path, flags, 0o666)


def write(fd: int, data: memoryview) -> int:
    """Write some of `data` to a file, at least a byte of it; return how many bytes that were."""
    return os.write(fd, data)


def seen_whole(fd: int) -> mmap.mmap:
    """Return all of a file as memory to read, which need not be read piece by piece any more.

    Where the system can, all of it is fetched at once: page by page costs a tenth of the time a checksum
    takes. The file must not be empty, and must not become shorter while it is looked at.
    """
    if sys.platform == "linux":
        flags = mmap.MAP_SHARED | mmap.MAP_POPULATE
        seen = mmap.mmap(fd, 0, flags=flags, prot=mmap.PROT_READ)
    else:
        seen = mmap.mmap(fd, 0, access=mmap.ACCESS_READ)
    return seen


def sync_data(fd: int) -> None:
    """Wait until a file's content, and the length needed to read it, has reached the disk."""
    if sys.platform == "darwin":
        fcntl.fcntl(fd, fcntl.F_FULLFSYNC)  # fsync alone stops at the drive's cache there
    elif sys.platform == "win32":
        os.fsync(fd)
    else:
        os.fdatasync(fd)


def sync_folder(folder: Path) -> None:
    """Wait until the names in a folder have reached the disk; Windows offers no way to."""
    if sys.platform == "win32":
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def name_new(temporary: Path, path: Path) -> None:
    """Give a finished file its name, unless that name is taken.

    A file without content does not take a name: it is what a crash leaves on a file system without hard
    links (exFAT), where a name is claimed first and then filled in one step.

    `FileExistsError` if there is anything else at `path` already; neither file is touched then.
    """
    try:
        os.link(temporary, path)
    except FileExistsError:
        if is_taken(path):
            raise
        temporary.replace(path)
    except OSError:
        _name_by_claim(temporary, path)
    else:
        temporary.unlink()


def is_taken(path: Path | str) -> bool:
    """Return whether anything lies at `path`, a dangling link included, but a file without content."""
    try:
        found = os.lstat(path)
    except (FileNotFoundError, NotADirectoryError):
        return False
    return not stat.S_ISREG(found.st_mode) or found.st_size > 0


def _name_by_claim(temporary: Path, path: Path) -> None:
    if is_taken(path):
        raise FileExistsError(f"{path} exists already")
    with contextlib.suppress(FileExistsError):
        os.close(create_new(path))
    try:
        temporary.replace(path)
    except OSError:
        path.unlink()
        raise


def lock_alone(fd: int) -> bool:
    """Take the exclusive lock of an open file without waiting; False if it is taken.

    The lock belongs to this descriptor and ends when it is closed or its process dies.
    """
    if sys.platform == "win32":
        os.lseek(fd, _LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
    return _flock(fd, fcntl.LOCK_EX)


def lock_shared(fd: int) -> bool:
    """Take a lock that others may share, without waiting; False if one holds the exclusive lock."""
    if sys.platform == "win32":
        return lock_alone(fd)  # msvcrt knows no shared lock
    return _flock(fd, fcntl.LOCK_SH)


if sys.platform != "win32":

    def _flock(fd: int, kind: int) -> bool:
        try:
            fcntl.flock(fd, kind | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


def peer_user(connection: socket.socket) -> int | None:
    """Return the user who opened the other end of a Unix socket; None where the system cannot tell."""
    here: str = sys.platform  # a plain string: a type checker must not think the others unreachable
    if here == "linux":
        credentials = struct.Struct("3i")  # struct ucred: process, user, group
        told = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, credentials.size)
        return int(credentials.unpack(told)[1])
    if here == "darwin":
        sol_local, local_peercred, xucred_bytes = 0, 1, 76  # sys/un.h, sys/ucred.h
        told = connection.getsockopt(sol_local, local_peercred, xucred_bytes)
        return int(struct.unpack_from("=II", told)[1])  # struct xucred: version, user, groups
    return None


def be_nice() -> None:
    """Lower this process's priority, so that measuring and drawing never delay sound."""
    if sys.platform == "win32":
        below_normal = 0x4000
        kernel = ctypes.windll.kernel32
        kernel.SetPriorityClass(kernel.GetCurrentProcess(), below_normal)
    else:
        os.nice(10)


def wait_unread(fd: int) -> bool:
    """Wait until nobody reads a pipe any more; return whether the system can tell at all.

    Parameters
    ----------
    fd
        The end that is written to.

    Returns
    -------
    bool
        True when the last reader is gone, False at once on a system that only tells at the next write.
    """
    if sys.platform == "win32":
        return False
    waiting = select.poll()
    waiting.register(fd, 0)  # that the other end is gone is told without being asked for
    waiting.poll()
    return True
