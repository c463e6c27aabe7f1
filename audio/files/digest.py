"""Checksums that are taken beside the copying: another core does them."""

from __future__ import annotations

import hashlib
import os
import queue
import threading
from pathlib import Path
from types import TracebackType
from typing import Self

from audio.files import platform

CHUNK = 1 << 20

_AHEAD = 8
"""Chunks that may wait for their checksum."""


class Digest:
    """A SHA-256 taken by a thread of its own, chunk after chunk; to be used as a context.

    What is added may not change any more.
    """

    def __init__(self) -> None:
        self._hash = hashlib.sha256()
        self._chunks: queue.Queue[bytes | memoryview | None] = queue.Queue(_AHEAD)
        self._thread = threading.Thread(target=self._run, name="digest", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end()

    def add(self, chunk: bytes | memoryview) -> None:
        """Take a chunk in, waiting while too many wait already."""
        self._chunks.put(chunk)

    def hex(self) -> str:
        """Return the checksum of all that was added; nothing can be added after that."""
        self._end()
        return self._hash.hexdigest()

    def _end(self) -> None:
        if self._thread.is_alive():
            self._chunks.put(None)
            self._thread.join()

    def _run(self) -> None:
        while (chunk := self._chunks.get()) is not None:
            self._hash.update(chunk)


def copied(source: Path, target: Path, *, audio_at: int, audio_bytes: int) -> tuple[str, str, int]:
    """Copy a file byte for byte; `OSError` if it cannot be read or written.

    Parameters
    ----------
    source
        It is only read.
    target
        Must not exist; is not waited for until it has reached the disk.
    audio_at
        Byte at which a stretch begins that has a checksum of its own.
    audio_bytes
        Its length.

    Returns
    -------
    tuple
        SHA-256 of the file, SHA-256 of the stretch, bytes written.
    """
    written, last = 0, audio_at + audio_bytes
    with (
        Digest() as whole,
        Digest() as audio,
        source.open("rb") as reader,
        os.fdopen(platform.create_new(target), "wb", buffering=0) as writer,
    ):
        while chunk := reader.read(CHUNK):
            whole.add(chunk)
            inside = memoryview(chunk)[max(audio_at - written, 0) : max(last - written, 0)]
            if inside:
                audio.add(inside)
            left = memoryview(chunk)
            while left:
                left = left[writer.write(left) :]
            written += len(chunk)
        return whole.hex(), audio.hex(), written
