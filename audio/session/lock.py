"""The face's lock of a session: two faces would claim numbers and add parts against each other."""

from __future__ import annotations

import getpass
import os
import socket
from collections.abc import Callable
from pathlib import Path

from audio.files.lock import FileLock
from audio.session import layout
from audio.session.disk import local_now


def lock_session(folder: Path, *, program: str, clock: Callable[[], str] = local_now) -> FileLock:
    """Take the lock of a session; `UseError` naming the holder if it is taken.

    Parameters
    ----------
    folder
        The session's folder.
    program
        What holds it, such as ``secondpass pass``.
    clock
        Gives the time, ISO 8601.

    Returns
    -------
    FileLock
        The lock, held; release it, or use it as a context. It ends with the process.
    """
    lock = FileLock(layout.face_lock(folder))
    lock.acquire(holder_text(program, since=clock()))
    return lock


def holder_text(program: str, *, since: str) -> str:
    """Return who holds a lock, in one line: program, user, machine, process, time."""
    return f"{program} ({_user()} on {socket.gethostname()}, process {os.getpid()}, since {since})"


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # a user without an entry, as in a container
        return "an unnamed user"
