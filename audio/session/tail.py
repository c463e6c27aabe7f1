"""A file that only grows, read again and again: of it what has come since the last look."""

from __future__ import annotations

from pathlib import Path

import msgspec

from audio.files.platform import open_at_once
from audio.files.text import looked_at
from audio.session.disk import said_plainly

_SURE_BYTES = 512
"""So much of what was read is compared before what follows is taken for its continuation."""


class Grown(msgspec.Struct, frozen=True, kw_only=True):
    """What one look has found."""

    anew: bool
    """It is not the file that was read before: what is here is all of it."""
    lines: tuple[bytes, ...] = ()
    """Whole lines that have come, without their ends."""
    rest: bytes = b""
    """What stands behind the last line's end; it may become more."""


class Tail:
    """One file in one sitting; for one thread. The file stays the only truth."""

    def __init__(self) -> None:
        self._stamp: tuple[int, int, int] | None = None
        self._read_to = 0
        self._before = b""  # the end of what was read
        self._rest = b""

    def look(self, path: Path) -> Grown:
        """Return what has come since the last look; all of it where the file was replaced or rewritten.

        A missing file is an empty one; `UseError` if it cannot be read, and the next look reads it anew.
        """
        was, self._stamp = self._stamp, None
        if not path.exists():
            return Grown(anew=True)
        with said_plainly(path, doing="read"):
            return self._look(path, was)

    def _look(self, path: Path, was: tuple[int, int, int] | None) -> Grown:
        with open_at_once(path) as file:
            about = looked_at(path, file)
            stamp = (about.st_ino, about.st_size, about.st_mtime_ns)
            if stamp == was:
                self._stamp = stamp
                return Grown(anew=False, rest=self._rest)
            may_go_on = was is not None and was[0] == stamp[0] and was[1] < stamp[1]
            start = self._read_to - len(self._before) if may_go_on else 0
            file.seek(start)
            data = file.read()
        goes_on = may_go_on and data.startswith(self._before)
        if may_go_on and not goes_on:
            return self._look(path, None)
        self._stamp = stamp
        return self._taken(data, len(self._before) if goes_on else 0, start, anew=not goes_on)

    def _taken(self, data: bytes, known: int, start: int, *, anew: bool) -> Grown:
        """Split what was read from `start` on, of which so many bytes were known."""
        ends = max(data.rfind(b"\n") + 1, known)
        self._read_to = start + ends
        self._before = data[max(ends - _SURE_BYTES, 0) : ends]
        self._rest = data[ends:]
        lines = tuple(data[known:ends].split(b"\n")[:-1]) if ends > known else ()
        return Grown(anew=anew, lines=lines, rest=self._rest)
