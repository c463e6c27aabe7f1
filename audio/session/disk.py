"""Turning what the system says of a disk into one sentence with a way out."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from audio.vocab.errors import UseError

_WAYS_OUT = {
    errno.ENOSPC: "make room on the disk",
    errno.EDQUOT: "make room on the disk",
    errno.EROFS: "copy the session to a disk that can be written",
    errno.EACCES: "ask for the right to it, or copy the session to a folder of yours",
    errno.EPERM: "ask for the right to it, or copy the session to a folder of yours",
    errno.ENOENT: "put it back, or check the path",
    errno.EISDIR: "name a file in it",
    errno.EEXIST: "something else was put there meanwhile; name another",
    errno.ENOTEMPTY: "something else was put there meanwhile; name another",
    errno.ENAMETOOLONG: "use a shorter name",
}


@contextmanager
def said_plainly(path: Path, *, doing: str) -> Iterator[None]:
    """Raise `UseError` for any `OSError` inside.

    Parameters
    ----------
    path
        The file or folder the work is about.
    doing
        What was tried, such as ``written``.

    Yields
    ------
    None
        Nothing; the block runs inside.

    Raises
    ------
    UseError
        Instead of the system's error.
    """
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        way_out = _WAYS_OUT.get(error.errno or 0, "check the disk and its cable")
        raise UseError(f"{path} cannot be {doing}: {reason}; {way_out}") from error


def local_now() -> str:
    """Return the local time with its offset, ISO 8601, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")
