"""The chunks of a WAV, RF64 or AIFF file: where each lies and what it claims to hold."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO

_LIMIT = 0xFFFFFFFF
_MOST = 10_000
"""More chunks than this are no sound file's, and walking them would take for ever."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """One chunk."""

    name: bytes
    """Four bytes, as in the file."""
    at: int
    """Byte of the file at which its content begins."""
    size: int
    """Bytes it claims; in RF64 the data chunk's size is taken from ``ds64``."""


def walk(file: BinaryIO) -> tuple[Chunk, ...]:
    """Return a file's chunks in order, as far as they begin within it.

    Parameters
    ----------
    file
        Open for reading and seeking; its position is lost.

    Returns
    -------
    tuple
        Empty when this is neither RIFF, RF64 nor FORM.
    """
    length = file.seek(0, 2)
    file.seek(0)
    kind = file.read(12)[:4]
    if kind not in (b"RIFF", b"RF64", b"FORM"):
        return ()
    head = struct.Struct(">4sI" if kind == b"FORM" else "<4sI")
    found: list[Chunk] = []
    at = 12
    long_data = 0
    while at + head.size <= length and len(found) < _MOST:
        file.seek(at)
        name, size = head.unpack(file.read(head.size))
        at += head.size
        if name == b"ds64" and size >= 16 and len(sizes := file.read(16)) == 16:
            long_data = struct.unpack("<8xQ", sizes)[0]
        if name == b"data" and kind == b"RF64" and size == _LIMIT:
            size = long_data
        found.append(Chunk(name, at, size))
        at += size + size % 2
    return tuple(found)


def content(file: BinaryIO, chunk: Chunk, *, most: int) -> bytes:
    """Return at most `most` bytes of a chunk's content, fewer where the file ends."""
    file.seek(chunk.at)
    return file.read(min(chunk.size, most))


def time_reference(file: BinaryIO) -> int:
    """Return the TimeReference of ``bext`` (EBU Tech 3285), frames; 0 where there is none."""
    for chunk in walk(file):
        if chunk.name == b"bext":
            data = content(file, chunk, most=346)
            if len(data) == 346:
                return int(struct.unpack_from("<Q", data, 338)[0])
    return 0


def claimed_frames(file: BinaryIO) -> int | None:
    """Return the frames a header claims, whatever the file holds; None where it does not say."""
    named = {chunk.name: chunk for chunk in walk(file)}
    if b"COMM" in named:
        data = content(file, named[b"COMM"], most=6)
        return int(struct.unpack_from(">I", data, 2)[0]) if len(data) == 6 else None
    if b"fmt " in named and b"data" in named:
        data = content(file, named[b"fmt "], most=14)
        frame_bytes = struct.unpack_from("<H", data, 12)[0] if len(data) == 14 else 0
        return named[b"data"].size // frame_bytes if frame_bytes else None
    return None
