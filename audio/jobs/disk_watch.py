"""The session's disk: what room is left, and that it is there at all."""

from __future__ import annotations

from pathlib import Path

from audio.files.platform import free_bytes
from audio.jobs.passes import SPARE_BYTES
from audio.session.disk import said_plainly
from audio.vocab.errors import UseError


class DiskWatch:
    """Looks at the disk of one session.

    Parameters
    ----------
    folder
        The session's.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lost = False

    def free_bytes(self) -> int | None:
        """Return what is left; `UseError` the first time it cannot be told, None from then on."""
        try:
            with said_plainly(self._folder, doing="read"):
                self._folder.stat()  # a disk that was pulled out leaves the room of another
                free = free_bytes(self._folder)
        except UseError:
            lost, self._lost = self._lost, True
            if not lost:
                raise
            return None
        self._lost = False
        return free

    @staticmethod
    def is_enough(free: int) -> bool:
        """Return whether a verdict that found no room may be written now."""
        return free >= SPARE_BYTES
