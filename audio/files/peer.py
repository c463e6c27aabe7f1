"""A Unix socket in a folder of its own that only its user can enter.

The address of a Unix socket holds 108 bytes (104 on some systems) and sessions lie deeper than that. No
system can bind relative to an open folder, `chdir` moves every thread, and ``/proc/self/fd`` is Linux
alone: so a symbolic link to the folder is made in a private temporary folder, the address leads through
it, and it is gone a moment later. Nobody else can change a link in a folder of mode 0700 in between.
"""

from __future__ import annotations

import os
import socket
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from audio.files import platform
from audio.vocab.errors import UseError

_ROOM_FOR_FOLDER = 70
"""Bytes of an address left for the temporary folder beside what is added to it."""

_BACKLOG = 16


def make_private(folder: Path) -> None:
    """Make a folder that only this user can enter, or an old one so; `UseError` if that cannot be."""
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        facts = folder.lstat()
        if stat.S_ISDIR(facts.st_mode) and facts.st_uid == os.geteuid():
            folder.chmod(0o700)
            return
    except OSError as error:
        raise UseError(
            f"cannot make the folder {folder}: {error.strerror}; make {folder.parent} writable, "
            "or remove what is in the way"
        ) from error
    raise UseError(f"{folder} is a link or another user's; remove it and open the session again")


def listen(path: Path) -> socket.socket:
    """Return a socket that listens at `path`, mode 0600; an old one there is replaced.

    The caller holds a lock that says nobody else listens there, and `make_private` has made the folder.

    Parameters
    ----------
    path
        Where; may be longer than an address can be.

    Returns
    -------
    socket.socket
        Non-blocking.

    Raises
    ------
    UseError
        If the disk cannot hold sockets, or the system has none.
    """
    listener = _unix_socket()
    try:
        path.unlink(missing_ok=True)
        with _short(path) as address:
            listener.bind(address)
        path.chmod(0o600)
        listener.listen(_BACKLOG)
        listener.setblocking(False)
    except OSError as error:
        listener.close()
        raise UseError(
            f"no card can reach this session: {path.parent} cannot hold a socket ({error.strerror}); "
            "keep the session on a disk of this machine"
        ) from error
    return listener


def connect(path: Path, *, within_s: float) -> socket.socket:
    """Return a non-blocking connection to whoever listens at `path`.

    Parameters
    ----------
    path
        Where; may be longer than an address can be.
    within_s
        Longest wait, seconds.

    Returns
    -------
    socket.socket
        The connection.

    Raises
    ------
    OSError
        As the system says: `FileNotFoundError` or `ConnectionRefusedError` where nobody listens,
        `PermissionError` also where somebody else does than this user.
    """
    connection = _unix_socket()
    try:
        connection.settimeout(within_s)
        with _short(path) as address:
            connection.connect(address)
        if not same_user(connection):
            raise PermissionError(f"another user listens at {path}")
        connection.setblocking(False)
    except OSError:
        connection.close()
        raise
    return connection


def same_user(connection: socket.socket) -> bool:
    """Return whether the other end is this user's; the folder's mode must do where no system tells."""
    return platform.peer_user(connection) in {None, os.geteuid()}


def _unix_socket() -> socket.socket:
    if not hasattr(socket, "AF_UNIX"):
        raise UseError("the card needs Unix sockets, which Python has not on this system")
    return socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)


@contextmanager
def _short(path: Path) -> Iterator[str]:
    """Give an address short enough for `path` while it is used."""
    home = tempfile.gettempdir()
    if len(os.fsencode(home)) > _ROOM_FOR_FOLDER:
        home = "/tmp"  # noqa: S108 - a new private folder is made in it
    with tempfile.TemporaryDirectory(prefix="card-", dir=home) as private:
        link = Path(private) / "d"
        link.symlink_to(path.parent.absolute(), target_is_directory=True)
        yield str(link / path.name)
