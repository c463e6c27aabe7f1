"""A recording compared with its DI, by the music alone, from two files."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files.source import SourceFile, no_channel
from audio.measure.music import align
from audio.vocab.answers import Compared
from audio.vocab.errors import UseError
from audio.vocab.requests import Compare

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LONGEST_S = 3600
"""Both files are held in memory."""
_PIECE = 1 << 18


def compare(asked: Compare) -> Compared:
    """Read both files and find how far the recording lies from the DI.

    Parameters
    ----------
    asked
        Files and channels.

    Returns
    -------
    Compared
        With a `reason` in its alignment where the delay cannot be told.

    Raises
    ------
    UseError
        If a file is none of the accepted kind, has no such channel, cannot be decoded, holds samples
        that are no numbers or more than an hour, or if the two have different rates.
    """
    with (
        closing(SourceFile(Path(asked.di_path))) as di,
        closing(SourceFile(Path(asked.path))) as recording,
    ):
        if di.rate != recording.rate:
            raise UseError(
                f"{di.path} has {di.rate} Hz and {recording.path} {recording.rate} Hz;"
                " convert one to the rate of the other first"
            )
        return Compared(
            alignment=align(
                whole_channel(di, asked.di_channel),
                whole_channel(recording, asked.channel),
                rate=di.rate,
            ),
            sample_rate=di.rate,
        )


def whole_channel(sound: SourceFile, channel: int) -> NDArray[np.float32]:
    """Return a whole channel (from 0), as precise as comparing needs; `UseError` where it cannot be had."""
    if not 0 <= channel < sound.channels:
        raise UseError(no_channel(sound.path, sound.channels, channel))
    if sound.frames > _LONGEST_S * sound.rate:
        raise UseError(f"{sound.path} is longer than an hour; cut out the part that is of interest")
    samples = np.empty(sound.frames, dtype=np.float32)
    for at in range(0, sound.frames, _PIECE):
        frames = min(_PIECE, sound.frames - at)
        samples[at : at + frames] = sound.read(at, frames, channel=channel)
    if not np.isfinite(samples).all():
        frame = int(np.argmin(np.isfinite(samples)))
        raise UseError(
            f"{sound.path} holds a sample that is no number at frame {frame}; export it again"
        )
    return samples
