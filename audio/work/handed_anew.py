"""Files of a hand-over that are written anew: begun elsewhere, one channel of several, or a mix."""

from __future__ import annotations

from contextlib import ExitStack, closing
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from msgspec.structs import replace

from audio.files.capture import CaptureFile
from audio.files.codes import as_device
from audio.files.source import SourceFile
from audio.vocab.errors import UseError
from audio.vocab.handover import FileDone, Piece
from audio.vocab.units import db_from_ratio, ratio_from_db
from audio.work.proving import begun_at, place_of, prove_source, proven, source_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from audio.vocab.requests import HandSounds

_AT_ONCE = 1 << 18
"""Frames in memory."""

_LARGEST_CODE = 1.0 - 2.0**-23
"""What 24 bits can hold."""


def write_anew(asked: HandSounds, piece: Piece) -> FileDone:
    """Write a file; it gets its name once it is whole.

    Parameters
    ----------
    asked
        Where everything lies.
    piece
        The file: its samples are the sum of its sources', exact where there is one of them.

    Returns
    -------
    FileDone
        With what its samples needed: a mix over full scale is written as floats.

    Raises
    ------
    UseError
        If a source cannot be read, or is not what it was.
    OSError
        If the disk refuses.
    """
    sources, to = [source_of(asked, one) for one in piece.sources], place_of(asked, piece)
    for one, path in zip(piece.sources, sources, strict=True):
        prove_source(one, path)
    part = begun_at(to)
    try:
        depth, peak = _rendered(asked, piece, sources, part)
        part.replace(to)
    finally:
        part.unlink(missing_ok=True)
    done = proven(Path(asked.folder), piece.path)
    return replace(done, peak_dbfs=db_from_ratio(peak), depth=depth)


def _rendered(
    asked: HandSounds, piece: Piece, sources: Sequence[Path], part: Path
) -> tuple[Literal[24, 32], float]:
    """Write the samples; return their depth and their peak."""
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
            description=_description(piece),
            made_at=datetime.fromisoformat(asked.made_at),
        )
        for block in _mixed(piece, files):
            file.write(as_device(block, file.format))
        recorded = file.close()
    if file.failed is not None:
        raise file.failed
    return depth, max(recorded.peak)


def _description(piece: Piece) -> str:
    words = (piece.part, "" if piece.number is None else f"{piece.number:03d}", piece.kind)
    return " ".join(word for word in (*words, piece.microphone) if word)


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
