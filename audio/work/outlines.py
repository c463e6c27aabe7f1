"""Sound files for the eye: the outline of a whole channel, and single samples of a stretch of it."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import numpy as np

from audio.files.source import SourceFile
from audio.measure.outline import BASE_FRAMES, Codes, codes, lows_and_highs, pyramid
from audio.vocab.errors import UseError
from audio.vocab.requests import CLOSEUP_FRAMES, Closeup, Outline
from audio.vocab.results import OutlineLevel, Outlines

_AT_ONCE = 512 * BASE_FRAMES
"""Frames in memory at a time."""


def outline(asked: Outline) -> Outlines:
    """Read one channel through, a piece at a time, and return its outline.

    Parameters
    ----------
    asked
        File and channel.

    Returns
    -------
    Outlines
        `frames` as the file's header says; what was cut off it since is drawn as silence.

    Raises
    ------
    UseError
        If the file is none of the accepted kind, has no such channel, or cannot be decoded.
    """
    with closing(SourceFile(Path(asked.path))) as sound:
        levels = pyramid(*_base(sound, asked.channel))
        return Outlines(
            path=asked.path,
            channel=asked.channel,
            sample_rate=sound.rate,
            frames=sound.frames,
            levels=tuple(
                OutlineLevel(bin_frames=frames, lows=lows.tobytes(), highs=highs.tobytes())
                for frames, lows, highs in levels
            ),
        )


def closeup(asked: Closeup) -> bytes:
    """Return single samples of one channel.

    Parameters
    ----------
    asked
        File, channel and stretch.

    Returns
    -------
    bytes
        As `audio.vocab.work.Samples` tells.

    Raises
    ------
    UseError
        As `outline`, and if more frames are asked for than are handed over at once.
    """
    if not 1 <= asked.frames <= CLOSEUP_FRAMES:
        raise UseError(
            f"{asked.frames} single samples were asked for; 1 to {CLOSEUP_FRAMES} can be had at once"
        )
    with closing(SourceFile(Path(asked.path))) as sound:
        return codes(sound.read(asked.at_frame, asked.frames, channel=asked.channel)).tobytes()


def _base(sound: SourceFile, channel: int) -> tuple[Codes, Codes]:
    pieces = [
        lows_and_highs(
            sound.read(at, min(_AT_ONCE, sound.frames - at), channel=channel),
            bin_frames=BASE_FRAMES,
        )
        for at in range(0, sound.frames, _AT_ONCE)
    ]
    lows, highs = zip(*pieces, strict=True)
    return np.concatenate(lows), np.concatenate(highs)
