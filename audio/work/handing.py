"""Files of a hand-over: copied with their proof, written anew where they must be, compressed, proven."""

from __future__ import annotations

import hashlib
import mmap
import os
import shutil
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import soundfile

from audio.files import platform
from audio.files.source import open_sound
from audio.vocab.answers import HandedSounds
from audio.vocab.errors import UseError
from audio.vocab.handover import FileDone, Piece
from audio.work.handed_anew import write_anew
from audio.work.proving import CHUNK, audio_of, begun_at, changed, place_of, proven, source_of

if TYPE_CHECKING:
    from audio.vocab.requests import CompressHanded, HandSounds, ProveHanded, SyncHanded

_AT_ONCE = 1 << 18
"""Frames in memory."""


def hand_sounds(asked: HandSounds) -> HandedSounds:
    """Write files of a hand-over; each gets its name once it is whole, and has reached the disk.

    Copied files are worked on beside each other: while one is copied, the checksums of those before it are
    taken, and they are handed to the disk. A source that becomes shorter meanwhile ends this process.

    Parameters
    ----------
    asked
        The files, and where they come from.

    Returns
    -------
    HandedSounds
        A mix that does not fit into 24 bits is written as floats. Refused is what cannot be read, or is not
        what it was when it was recorded or brought in.

    Raises
    ------
    OSError
        If the disk refuses.
    """
    done: dict[str, FileDone] = {}
    refused: list[str] = []
    with (
        ExitStack() as open_files,  # let go of once nobody sums any more
        ThreadPoolExecutor(2) as summing,
        ThreadPoolExecutor(1) as syncing,
    ):
        copies = []
        for piece in asked.pieces:
            try:
                if piece.copied:
                    copies.append(_begun(asked, piece, summing, syncing, open_files))
                else:
                    done[piece.path] = write_anew(asked, piece)
            except UseError as error:
                refused.append(str(error))
        for one in copies:
            try:
                done[one.piece.path] = one.ended()
            except UseError as error:
                refused.append(str(error))
    whole = (done.get(piece.path) for piece in asked.pieces)
    return HandedSounds(done=tuple(one for one in whole if one), refused=tuple(refused))


def compress(asked: CompressHanded) -> FileDone:
    """Write a file once more as FLAC; `UseError` if it cannot be read, `OSError` if the disk refuses."""
    path, to = Path(asked.folder, asked.path), Path(asked.folder, asked.to)
    part = begun_at(to)
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
    return proven(Path(asked.folder), asked.to)


def prove(asked: ProveHanded) -> FileDone:
    """Return what a file is, by all its bytes; `OSError` if it cannot be read."""
    return proven(Path(asked.folder), asked.path)


def sync(asked: SyncHanded) -> None:
    """Wait until files and their folders have reached the disk; `OSError` if it refuses."""
    folder = Path(asked.folder)
    for one in asked.paths:
        _synced(folder / one)
    inside = {above for one in asked.paths for above in Path(one).parents}
    for above in sorted(inside, key=lambda one: len(one.parts), reverse=True):
        platform.sync_folder(folder / above)


# ---------------------------------------------------------------- copied


@dataclass(frozen=True, slots=True)
class _Copy:
    """A file that was copied, while its checksums are still taken."""

    piece: Piece
    source: Path
    part: Path
    to: Path
    size: int
    whole: Future[str]
    audio: Future[str]
    synced: Future[None]

    def ended(self) -> FileDone:
        """Give it its name, if it is what it should be."""
        one = self.piece.sources[0]
        self.synced.result()
        whole = self.whole.result()
        wrong_file = one.file_sha256 not in ("", whole)
        if wrong_file or one.audio_sha256 not in ("", self.audio.result()):
            self.part.unlink()
            raise changed(self.source)
        self.part.replace(self.to)
        return FileDone(path=self.piece.path, sha256=whole, size=self.size)


def _begun(
    asked: HandSounds,
    piece: Piece,
    summing: ThreadPoolExecutor,
    syncing: ThreadPoolExecutor,
    open_files: ExitStack,
) -> _Copy:
    """Copy a file; its checksums are taken by others, of the source as it lies in memory."""
    source, to = source_of(asked, piece.sources[0]), place_of(asked, piece)
    recorded = bool(piece.sources[0].audio_sha256)
    at, length = audio_of(source) if recorded else (0, 0)
    file = open_files.enter_context(source.open("rb"))
    seen = open_files.enter_context(platform.seen_whole(file.fileno()))
    whole = summing.submit(_summed, seen, 0, len(seen))
    audio = summing.submit(_summed, seen, at, min(at + length, len(seen)))
    part = begun_at(to)
    shutil.copyfile(source, part)
    return _Copy(
        piece=piece,
        source=source,
        part=part,
        to=to,
        size=len(seen),
        whole=whole,
        audio=audio,
        synced=syncing.submit(_synced, part),
    )


def _summed(seen: mmap.mmap, at: int, end: int) -> str:
    digest = hashlib.sha256()
    with memoryview(seen) as view:
        for begin in range(at, end, CHUNK):
            with view[begin : min(begin + CHUNK, end)] as piece:
                digest.update(piece)
    return digest.hexdigest()


def _synced(path: Path) -> None:
    fd = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
    try:
        platform.sync_data(fd)
    finally:
        os.close(fd)
