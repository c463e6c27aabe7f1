"""Bytes of a sound file read for no other reason than to have them in the system's memory."""

from __future__ import annotations

from pathlib import Path

from audio.files.chunks import walk
from audio.files.source import SourceFile

_SOUND = (b"data", b"SSND")
"""Names of the chunk that holds the sound, in RIFF or RF64 and in FORM."""


class TouchedFile:
    """A sound file whose bytes are read and thrown away, without a frame of them being computed.

    Where frames lie is told by the file's chunks; in a compressed file it is about so far into it as into
    its sound.

    Parameters
    ----------
    path
        A file that `SourceFile` accepts; refused as there.
    """

    def __init__(self, path: Path) -> None:
        sound = SourceFile(path)
        self._frames = sound.frames
        sound.close()
        self._file = path.open("rb", buffering=0)
        length = self._file.seek(0, 2)
        chunk = next((one for one in walk(self._file) if one.name in _SOUND), None)
        self._at = chunk.at if chunk else 0
        self._bytes = min(chunk.size, length - chunk.at) if chunk else length

    def touch(self, first: int, frames: int, *, into: memoryview) -> None:
        """Read what holds some frames that lie in the file; `OSError` where the disk refuses.

        Parameters
        ----------
        first
            The first of them.
        frames
            How many.
        into
            Overwritten, so much at a time.
        """
        at = self._at + self._bytes * first // self._frames
        end = self._at + -(-self._bytes * (first + frames) // self._frames)
        self._file.seek(at)
        while at < end:
            came = self._file.readinto(into[: end - at])
            if not came:
                return
            at += came

    def close(self) -> None:
        """Close the file."""
        self._file.close()
