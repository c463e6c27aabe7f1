"""A capture: one WAV file that grows while a roll runs and says what became of it."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Literal

import numpy as np

from audio.files import codes, platform
from audio.files.wave import DATA_AT, Stamp, WaveFormat, build_header, sized
from audio.vocab.messages import Recorded

_ZEROS_AT_ONCE = 65536
"""Frames of silence written in one go where frames were lost."""


class CaptureFile:
    """A capture file being written, by one thread.

    What it counts, hashes and measures is what is in the file. The first error of the disk is kept in
    `failed`; from then on nothing more is written and `close` saves what there is.

    Making one raises `FileExistsError` if there is anything at `path` already, which is not touched
    then, and `OSError` if the header finds no room; nothing is left behind then.

    Parameters
    ----------
    path
        Where; its folder must exist.
    channels
        1 or more.
    rate
        Frames a second.
    depth
        24: signed integers; 32: floats.
    time_reference
        ``bext`` TimeReference of frame 0, 0 to 2**64 − 1.
    description
        ``bext`` Description; at most 256 characters.
    made_at
        ``bext`` OriginationDate and OriginationTime.
    """

    def __init__(
        self,
        path: Path,
        *,
        channels: int,
        rate: int,
        depth: Literal[24, 32],
        time_reference: int,
        description: str,
        made_at: datetime,
    ) -> None:
        self.path = path
        self.format = WaveFormat(channels, rate, depth)
        self.frames = 0
        self.failed: OSError | None = None
        stamp = Stamp(description, made_at, time_reference)
        self._header = build_header(self.format, stamp)
        self._hash = hashlib.sha256()
        self._tally = codes.Tally(self.format)
        self._fd = platform.create_new(path)
        self._put(self._header)
        self._give_up_if_failed()

    def write(self, block: codes.Samples) -> None:
        """Append a block.

        Parameters
        ----------
        block
            Shape (frames, channels), any strides. int32 with full scale 2**31, or float32 with full
            scale 1.0; what the file's depth makes of them is said in `audio.files.codes.from_device`.
        """
        if self.failed is not None:
            return
        samples = codes.from_device(block, self.format)
        data = codes.to_bytes(samples, self.format)
        written = self._put(data)
        if written < len(data):
            # A full disk takes part of a block: only its whole frames count.
            whole = written // self.format.frame_bytes
            samples, data = samples[:whole], data[: whole * self.format.frame_bytes]
        self.frames += samples.shape[0]
        self._hash.update(data)
        self._tally.add(samples)
        if written > len(data):
            self._cut()

    def skip(self, frames: int) -> None:
        """Append silence in place of `frames` frames that were lost."""
        while frames > 0 and self.failed is None:
            now = min(frames, _ZEROS_AT_ONCE)
            self.write(np.zeros((now, self.format.channels), dtype=np.int32))
            frames -= now

    def sync(self) -> None:
        """Set the header's sizes and wait until everything so far has reached the disk."""
        self.update_header()
        self.sync_data()

    def update_header(self) -> None:
        """Set the header's sizes to what is written so far."""
        if self.failed is None:
            self._latch(self._save_header)

    def sync_data(self) -> None:
        """Wait until everything so far has reached the disk; may be called beside `write`."""
        if self.failed is None:
            self._latch(lambda: platform.sync_data(self._fd))

    def close(self) -> Recorded:
        """Finish the file and say what it holds; a disk error shows in `failed`, nothing is raised."""
        if self.frames * self.format.frame_bytes % 2:
            self._put(b"\0")
        self._latch(self._save)
        self._latch(lambda: os.close(self._fd))
        self._latch(lambda: platform.sync_folder(self.path.parent))
        return Recorded(
            path=str(self.path),
            frames=self.frames,
            audio_sha256=self._hash.hexdigest(),
            peak=self._tally.peak,
            clipped_samples=self._tally.clipped,
        )

    def _give_up_if_failed(self) -> None:
        if self.failed is not None:
            os.close(self._fd)
            self.path.unlink()
            raise self.failed

    def _put(self, data: bytes) -> int:
        written = 0
        left = memoryview(data)
        try:
            while written < len(left):
                written += platform.write(self._fd, left[written:])
        except OSError as error:
            self.failed = self.failed or error
        return written

    def _cut(self) -> None:
        """Take back the bytes of a frame that found no room."""
        end = DATA_AT + self.frames * self.format.frame_bytes
        self._latch(lambda: os.ftruncate(self._fd, end))
        os.lseek(self._fd, 0, os.SEEK_END)

    def _save(self) -> None:
        self._save_header()
        platform.sync_data(self._fd)

    def _save_header(self) -> None:
        os.lseek(self._fd, 0, os.SEEK_SET)
        self._put(sized(self._header, self.frames))
        os.lseek(self._fd, 0, os.SEEK_END)

    def _latch(self, step: Callable[[], None]) -> None:
        try:
            step()
        except OSError as error:
            self.failed = self.failed or error
