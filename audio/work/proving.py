"""What a file of a hand-over is, by its checksum, and whether its source is what it was."""

from __future__ import annotations

import hashlib
from pathlib import Path

from audio.files.wave import DATA_AT, parse_header
from audio.handover.places import part_of
from audio.vocab.errors import UseError
from audio.vocab.handover import FileDone, Piece, Source
from audio.vocab.requests import HandSounds

CHUNK = 1 << 20
"""Bytes of a checksum at a time."""


def source_of(asked: HandSounds, one: Source) -> Path:
    """Return where a source lies; `UseError` where it is not there any more."""
    path = Path(asked.session, one.file)
    if not path.is_file() or not path.stat().st_size:
        raise UseError(f"{path} is not there any more; restore it from a copy")
    return path


def place_of(asked: HandSounds, piece: Piece) -> Path:
    """Return where a file is to lie; its folders are made."""
    to = Path(asked.folder, piece.path)
    to.parent.mkdir(parents=True, exist_ok=True)
    return to


def begun_at(to: Path) -> Path:
    """Return under which name a file is written until it is whole; what lies there is taken away."""
    part = part_of(to)
    part.unlink(missing_ok=True)
    return part


def audio_of(path: Path) -> tuple[int, int]:
    """Return where in a capture its samples lie, bytes; `UseError` where it is none."""
    try:
        with path.open("rb") as file:
            fmt, frames = parse_header(file.read(DATA_AT))
    except ValueError:
        raise changed(path) from None
    return DATA_AT, frames * fmt.frame_bytes


def prove_source(one: Source, path: Path) -> None:
    """Read a source through; `UseError` where it is not what it was when it came into the session."""
    if one.audio_sha256:
        at, length = audio_of(path)
        if _summed(path, at, length)[0] != one.audio_sha256:
            raise changed(path)
    elif one.file_sha256 and _summed(path)[0] != one.file_sha256:
        raise changed(path)


def changed(path: Path) -> UseError:
    """Return what is said of a source that is not what it was."""
    return UseError(f"{path} is not what it was, its checksum differs; restore it from a copy")


def proven(folder: Path, path: str) -> FileDone:
    """Return what a file is, by all its bytes; `OSError` if it cannot be read."""
    sha256, size = _summed(folder / path)
    return FileDone(path=path, sha256=sha256, size=size)


def _summed(path: Path, at: int = 0, length: int | None = None) -> tuple[str, int]:
    """Return SHA-256 and size of a file, or of a stretch of it."""
    digest, size = hashlib.sha256(), 0
    with path.open("rb") as file:
        file.seek(at)
        while chunk := file.read(CHUNK if length is None else min(CHUNK, length - size)):
            digest.update(chunk)
            size += len(chunk)
    return digest.hexdigest(), size
