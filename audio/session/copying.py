"""Copying a sound file into the session: whole and proven, or not at all, and over nothing."""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path

from audio.files import platform
from audio.session.disk import said_plainly
from audio.vocab.errors import UseError

_CHUNK = 1 << 20


def copy_in(source: Path, folder: Path, *, stem: str, suffix: str, sha256: str) -> Path:
    """Copy a file under a name that is free.

    A file of that name with the same content (left by a crash between copying and noting it) is taken as
    the copy; one with other content stays, and the copy becomes ``stem-2``, ``stem-3`` and so on.
    `UseError` if `source` does not have that checksum any more, or the disk refuses.

    Parameters
    ----------
    source
        The file; it is only read.
    folder
        Where the copy goes; made if missing.
    stem
        Name of the copy without its ending, such as ``rhythm-left.r1``.
    suffix
        Its ending, such as ``.wav``.
    sha256
        Checksum the content must have.

    Returns
    -------
    Path
        The copy.
    """
    with said_plainly(source, doing="read"), source.open("rb") as file:
        os.fstat(file.fileno())
    with said_plainly(folder, doing="written"):
        folder.mkdir(parents=True, exist_ok=True)
        names = names_in_turn(folder, stem, suffix)
        target = next(n for n in names if not os.path.lexists(n) or _holds(n, sha256))
        if not os.path.lexists(target):
            _copy(source, target, sha256)
    return target


def names_in_turn(folder: Path, stem: str, suffix: str) -> Iterator[Path]:
    """Yield the paths to try for a new file, without end: ``stem``, ``stem-2``, ``stem-3`` ..."""
    yield folder / f"{stem}{suffix}"
    number = 2
    while True:
        yield folder / f"{stem}-{number}{suffix}"
        number += 1


def _copy(source: Path, target: Path, sha256: str) -> None:
    temporary = target.with_name(f".{target.name}.{secrets.token_hex(6)}.tmp")
    try:
        if _write(source, temporary) != sha256:
            raise UseError(
                f"{source} changed while it was read; wait until it is saved, add it again"
            )
        platform.name_new(temporary, target)
    finally:
        temporary.unlink(missing_ok=True)
    platform.sync_folder(target.parent)


def _write(source: Path, temporary: Path) -> str:
    digest = hashlib.sha256()
    with source.open("rb") as reader, os.fdopen(platform.create_new(temporary), "wb") as writer:
        while chunk := reader.read(_CHUNK):
            digest.update(chunk)
            writer.write(chunk)
        writer.flush()
        platform.sync_data(writer.fileno())
    return digest.hexdigest()


def _holds(path: Path, sha256: str) -> bool:
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest() == sha256
