"""Files of a hand-over: copied with their proof, written anew where they must be, compressed, proven."""

from __future__ import annotations

import hashlib
import os
from contextlib import ExitStack, closing
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
import soundfile
from msgspec.structs import replace

from audio.files import platform
from audio.files.capture import CaptureFile
from audio.files.codes import as_device
from audio.files.digest import CHUNK, copied
from audio.files.source import SourceFile, open_sound
from audio.files.wave import DATA_AT, parse_header
from audio.handover.places import part_of
from audio.vocab.errors import UseError
from audio.vocab.handover import FileDone, Piece, Source
from audio.vocab.units import db_from_ratio, ratio_from_db

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audio.vocab.requests import CompressHanded, HandSound, ProveHanded, SyncHanded

_AT_ONCE = 1 << 18
"""Frames in memory."""

_LARGEST_CODE = 1.0 - 2.0**-23
"""What 24 bits can hold."""


def hand_sound(asked: HandSound) -> FileDone:
    """Write one file of a hand-over; it gets its name once it is whole.

    Parameters
    ----------
    asked
        The file, and where it comes from.

    Returns
    -------
    FileDone
        What it is. A mix that does not fit into 24 bits is written as floats.

    Raises
    ------
    UseError
        If a source cannot be read, or is not what it was when it was recorded or brought in.
    OSError
        If the disk refuses.
    """
    piece, to = asked.piece, Path(asked.folder, asked.piece.path)
    to.parent.mkdir(parents=True, exist_ok=True)
    part = _part(to)
    sources = [Path(asked.session, one.file) for one in piece.sources]
    try:
        for path in sources:
            _refuse_missing(path)
        if piece.copied:
            done = _copied(piece, sources[0], part)
        else:
            for one, path in zip(piece.sources, sources, strict=True):
                _prove_source(one, path)
            done = _written(asked, sources, part)
        part.replace(to)
    finally:
        part.unlink(missing_ok=True)
    return done


def compress(asked: CompressHanded) -> FileDone:
    """Write a file once more as FLAC; `UseError` if it cannot be read, `OSError` if the disk refuses."""
    path, to = Path(asked.folder, asked.path), Path(asked.folder, asked.to)
    part = _part(to)
    sound, _ = open_sound(path)
    subtype = "PCM_16" if sound.subtype == "PCM_16" else "PCM_24"
    try:
        with (
            sound,
            soundfile.SoundFile(
                part, "x", sound.samplerate, sound.channels, subtype, format="FLAC"
            ) as flac,
        ):
            flac.title, flac.comment = to.stem, asked.comment
            while (block := sound.read(_AT_ONCE, dtype="int32", always_2d=True)).size:
                flac.write(block)
        part.replace(to)
    except soundfile.LibsndfileError as error:
        raise OSError(None, f"{to.name} cannot be written: {error}", str(to)) from error
    finally:
        part.unlink(missing_ok=True)
    return _proven(Path(asked.folder), asked.to)


def prove(asked: ProveHanded) -> FileDone:
    """Return what a file is, by all its bytes; `OSError` if it cannot be read."""
    return _proven(Path(asked.folder), asked.path)


def sync(asked: SyncHanded) -> None:
    """Wait until files and their folders have reached the disk; `OSError` if it refuses."""
    folder = Path(asked.folder)
    for one in asked.paths:
        fd = os.open(folder / one, os.O_RDWR | getattr(os, "O_BINARY", 0))
        try:
            platform.sync_data(fd)
        finally:
            os.close(fd)
    inside = {above for one in asked.paths for above in Path(one).parents}
    for above in sorted(inside, key=lambda one: len(one.parts), reverse=True):
        platform.sync_folder(folder / above)


# ---------------------------------------------------------------- copied


def _copied(piece: Piece, source: Path, part: Path) -> FileDone:
    one = piece.sources[0]
    at, length = _audio_of(source) if one.audio_sha256 else (0, 0)
    whole, audio, size = copied(source, part, audio_at=at, audio_bytes=length)
    wrong_file = one.file_sha256 not in ("", whole)
    if wrong_file or one.audio_sha256 not in ("", audio):
        raise _changed(source)
    return FileDone(path=piece.path, sha256=whole, size=size)


def _audio_of(path: Path) -> tuple[int, int]:
    """Return where in a capture its samples lie, bytes; `UseError` where it is none."""
    try:
        with path.open("rb") as file:
            fmt, frames = parse_header(file.read(DATA_AT))
    except ValueError:
        raise _changed(path) from None
    return DATA_AT, frames * fmt.frame_bytes


def _prove_source(one: Source, path: Path) -> None:
    if one.audio_sha256:
        at, length = _audio_of(path)
        if _digest(path, at, length)[0] != one.audio_sha256:
            raise _changed(path)
    elif one.file_sha256 and _digest(path)[0] != one.file_sha256:
        raise _changed(path)


def _refuse_missing(path: Path) -> None:
    if not path.is_file():
        raise UseError(f"{path} is not there any more; restore it from a copy")


def _changed(path: Path) -> UseError:
    return UseError(f"{path} is not what it was, its checksum differs; restore it from a copy")


# ---------------------------------------------------------------- written anew


def _written(asked: HandSound, sources: list[Path], part: Path) -> FileDone:
    piece = asked.piece
    with ExitStack() as open_files:
        files = [open_files.enter_context(closing(SourceFile(path))) for path in sources]
        _refuse_other_rate(piece, files)
        depth = _depth(piece, files)
        file = CaptureFile(
            part,
            channels=piece.channels,
            rate=piece.sample_rate,
            depth=depth,
            time_reference=piece.time_reference,
            description=asked.description,
            made_at=datetime.fromisoformat(asked.made_at),
        )
        for block in _mixed(piece, files):
            file.write(as_device(block, file.format))
        recorded = file.close()
    if file.failed is not None:
        raise file.failed
    done = _proven(part.parent, part.name)
    peak = db_from_ratio(max(recorded.peak))
    return replace(done, path=piece.path, peak_dbfs=peak, depth=depth)


def _mixed(piece: Piece, files: list[SourceFile]) -> Iterator[NDArray[np.float64]]:
    """Yield (channels, frames) of the file, block by block; silence where its sources have no frames."""
    for at in range(0, piece.frames, _AT_ONCE):
        frames = min(_AT_ONCE, piece.frames - at)
        out = np.zeros((piece.channels, frames))
        for one, file in zip(piece.sources, files, strict=True):
            start = piece.time_reference + at - one.at_frame
            gain = ratio_from_db(one.gain_db)
            for row in range(piece.channels):
                sound = file.read(start, frames, channel=one.channel + row)
                out[row] += sound if gain == 1.0 else gain * sound
        if not np.isfinite(out).all():
            raise UseError(f"{files[0].path} holds a sample that is no number; export it again")
        yield out


def _depth(piece: Piece, files: list[SourceFile]) -> Literal[24, 32]:
    """Return what its samples need: a mix may exceed full scale, and floats clip nothing."""
    if piece.depth == 32:
        return 32
    if len(files) == 1 and piece.sources[0].gain_db <= 0.0:
        return 24
    largest = max(float(np.abs(block).max(initial=0.0)) for block in _mixed(piece, files))
    return 24 if largest <= _LARGEST_CODE else 32


def _refuse_other_rate(piece: Piece, files: list[SourceFile]) -> None:
    for file in files:
        if file.rate != piece.sample_rate:
            raise UseError(
                f"{file.path} is at {file.rate}, its part at {piece.sample_rate}: they must agree;"
                " convert it"
            )


# ---------------------------------------------------------------- files


def _part(to: Path) -> Path:
    part = part_of(to)
    part.unlink(missing_ok=True)
    return part


def _proven(folder: Path, path: str) -> FileDone:
    sha256, size = _digest(folder / path)
    return FileDone(path=path, sha256=sha256, size=size)


def _digest(path: Path, at: int = 0, length: int | None = None) -> tuple[str, int]:
    """Return SHA-256 and size of a file, or of a stretch of it."""
    digest, size = hashlib.sha256(), 0
    with path.open("rb") as file:
        file.seek(at)
        while chunk := file.read(CHUNK if length is None else min(CHUNK, length - size)):
            digest.update(chunk)
            size += len(chunk)
    return digest.hexdigest(), size
