"""Make a capture readable whose writer died: sizes from the file's length, everything measured anew."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import BinaryIO

from audio.files import chunks, codes, platform
from audio.files.wave import DATA_AT, WaveFormat, parse_header, sized
from audio.vocab.errors import UseError
from audio.vocab.results import Repaired

_FRAMES_AT_ONCE = 1 << 18


def repair(path: Path) -> Repaired:
    """Finish one of this program's own captures in place.

    The result is, bit for bit, the file its writer would have closed after the same frames; a torn
    last frame is dropped. A file closed properly stays as it is.

    Parameters
    ----------
    path
        A capture file that nobody writes to any more.

    Returns
    -------
    Repaired
        Frames, hash of the data's bytes, peak over all channels, samples at full scale of all channels.

    Raises
    ------
    UseError
        If the file is missing, is none of this program's captures, or cannot be written; it is
        unchanged then.
    """
    try:
        with path.open("r+b", buffering=0) as file:
            return _repair(path, file)
    except OSError as error:
        raise UseError(
            f"cannot repair {path}: {error.strerror}; see that it exists, is writable and that its "
            "disk is not full, then try again"
        ) from error


def _repair(path: Path, file: BinaryIO) -> Repaired:
    header = file.read(DATA_AT)
    try:
        fmt, claimed = parse_header(header)
        if header != sized(header, claimed):
            _refuse_edited(file)
    except ValueError as error:
        raise UseError(
            f"cannot repair {path}: it is not as secondpass leaves a capture ({error}); "
            "only captures whose recording was cut off can be repaired"
        ) from error
    file.seek(DATA_AT)
    length = os.fstat(file.fileno()).st_size
    frames = (length - DATA_AT) // fmt.frame_bytes
    digest, tally = _read_through(file, fmt, frames)
    _finish(file, sized(header, frames), frames * fmt.frame_bytes)
    return Repaired(
        path=str(path),
        frames=frames,
        audio_sha256=digest,
        peak=max(tally.peak),
        clipped_samples=sum(tally.clipped),
    )


def _refuse_edited(file: BinaryIO) -> None:
    """Raise `ValueError` if sizes contradict each other because chunks were added behind the data.

    A header torn by a power failure contradicts itself, too, but what lies behind its data is sound: read
    as chunks, it does not end where the file does.
    """
    last = chunks.walk(file)[-1]
    ends_there = last.at + last.size + last.size % 2 == os.fstat(file.fileno()).st_size
    if ends_there and last.name != b"data" and last.name.isascii():
        raise ValueError("another program has added to it")


def _read_through(file: BinaryIO, fmt: WaveFormat, frames: int) -> tuple[str, codes.Tally]:
    digest, tally = hashlib.sha256(), codes.Tally(fmt)
    left = frames * fmt.frame_bytes
    while left:
        data = file.read(min(left, _FRAMES_AT_ONCE * fmt.frame_bytes))
        data = data[: len(data) // fmt.frame_bytes * fmt.frame_bytes]
        digest.update(data)
        tally.add(codes.from_bytes(data, fmt))
        left -= len(data)
    return digest.hexdigest(), tally


def _finish(file: BinaryIO, header: bytes, data_bytes: int) -> None:
    end = DATA_AT + data_bytes
    file.truncate(end)
    if data_bytes % 2:
        file.seek(end)
        file.write(b"\0")
    file.seek(0)
    file.write(header)
    platform.sync_data(file.fileno())
