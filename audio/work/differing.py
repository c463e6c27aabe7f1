"""What is different between two sounds of one part, from their files, which are read in pieces."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files.source import SourceFile, no_channel
from audio.measure.differences import differences
from audio.measure.heard_sound import RunningDi, RunningSound
from audio.vocab.errors import UseError
from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audio.vocab.differences import Differences
    from audio.vocab.layers import Layer
    from audio.vocab.requests import Differ

    Floats = NDArray[np.float64]

SHORTEST_S = 1.0
"""Power in third octaves is seen through windows as long."""
_PIECE_S = 4.0
"""Sound that is read at a time: what memory holds of each file."""


def differ(asked: Differ) -> Differences:
    """Read the stretch of all files and compare the two sounds.

    Parameters
    ----------
    asked
        Files, places, gains, stretch.

    Returns
    -------
    Differences
        Over what both sounds hold of the stretch; behind its ends the DI is silent.

    Raises
    ------
    UseError
        If a sound has no microphone that is heard, rates differ, less than `SHORTEST_S` is left, a file
        cannot be read or holds samples that are no numbers.
    """
    with ExitStack() as files:
        di = _Mix((asked.di,), files)
        a, b = _Mix(asked.a, files), _Mix(asked.b, files)
        rate = _rate((di, a, b))
        begin, end = _stretch(asked, a, b)
        if end - begin < SHORTEST_S * rate:
            raise UseError(
                f"the two sounds have {max(end - begin, 0) / rate:.1f} s in common there;"
                f" {SHORTEST_S:g} s at least can be compared: choose a longer stretch, or another sound"
            )
        played = RunningDi(rate=rate)
        first, second = RunningSound(rate=rate), RunningSound(rate=rate)
        piece = round(_PIECE_S * rate)
        pieces = [(at, min(piece, end - at)) for at in range(begin, end, piece)]

        def hear(running: RunningDi | RunningSound, mix: _Mix) -> None:
            for at, frames in pieces:
                running.feed(mix.read(at, frames))

        # Transforms and decoders let go of the interpreter: the three come in beside each other.
        with ThreadPoolExecutor(max_workers=3) as side_by_side:
            list(side_by_side.map(hear, (played, first, second), (di, a, b)))
    return differences(played, first, second, rate=rate, from_frame=begin, frames=end - begin)


class _Mix:
    """Microphones that are heard together.

    Parameters
    ----------
    layers
        One at least, else `UseError`.
    files
        Closes the files.
    """

    def __init__(self, layers: Sequence[Layer], files: ExitStack) -> None:
        if not layers:
            raise UseError("a sound has no microphone that is heard; open one of its faders")
        self._layers = [(one, _opened(one, files)) for one in layers]

    @property
    def rates(self) -> list[tuple[int, Path]]:
        """Frames a second of each file."""
        return [(sound.rate, sound.path) for _, sound in self._layers]

    @property
    def begin(self) -> int:
        """The first frame that all of them hold."""
        return max(one.at_frame for one, _ in self._layers)

    @property
    def end(self) -> int:
        """The frame behind the last that all of them hold."""
        return min(one.at_frame + sound.frames for one, sound in self._layers)

    def read(self, at: int, frames: int) -> Floats:
        """Return (frames,) of the mix from a frame of the timeline on."""
        mixed = np.zeros(frames)
        for one, sound in self._layers:
            piece = sound.read(at - one.at_frame, frames, channel=one.channel)
            mixed += ratio_from_db(one.gain_db) * piece
        if not np.isfinite(mixed).all():
            names = " or ".join(str(sound.path) for _, sound in self._layers)
            frame = at + int(np.argmin(np.isfinite(mixed)))
            raise UseError(
                f"{names} holds a sample that is no number, at frame {frame} of the DI's timeline;"
                " export it again"
            )
        return mixed


def _opened(layer: Layer, files: ExitStack) -> SourceFile:
    sound = SourceFile(Path(layer.path))
    files.callback(sound.close)
    if not 0 <= layer.channel < sound.channels:
        raise UseError(no_channel(sound.path, sound.channels, layer.channel))
    return sound


def _rate(mixes: Sequence[_Mix]) -> int:
    first, *others = [rate for mix in mixes for rate in mix.rates]
    for other in others:
        if other[0] != first[0]:
            raise UseError(
                f"{first[1]} has {first[0]} Hz and {other[1]} {other[0]} Hz;"
                " convert one to the rate of the other first"
            )
    return first[0]


def _stretch(asked: Differ, a: _Mix, b: _Mix) -> tuple[int, int]:
    """Return the first frame that is compared, and the frame behind the last."""
    begin, end = max(a.begin, b.begin), min(a.end, b.end)
    if asked.frames is None:
        return max(begin, asked.from_frame), end
    return max(begin, asked.from_frame), min(end, asked.from_frame + asked.frames)
