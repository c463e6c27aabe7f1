"""A sound then and now, from the files both were recorded to."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from audio.files.source import SourceFile
from audio.measure.likeness import Phrase, Sounds
from audio.measure.sounds import compare_sounds
from audio.vocab.errors import UseError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from audio.vocab.likeness import Recorded, SoundsCompared, Takes
    from audio.vocab.requests import CompareSounds

SHORTEST_S, LONGEST_S = 2.0, 60.0


def compare_recorded(asked: CompareSounds) -> SoundsCompared:
    """Read the stretch of all files and compare them.

    Parameters
    ----------
    asked
        Files, channels, stretch.

    Returns
    -------
    SoundsCompared
        With a `reason` for a return of which nothing can be told.

    Raises
    ------
    UseError
        If the stretch is too short or too long, no return is named or one twice, rates differ, a recording
        does not reach over the stretch, or a file cannot be read.
    """
    with closing(SourceFile(Path(asked.di.path))) as di:
        rate = di.rate
        _check(asked, rate)
        phrase = Phrase(
            di.read(asked.di.at_frame, asked.frames, channel=asked.di.channel), rate=rate
        )
    return compare_sounds(
        phrase,
        {takes.name: _sounds(takes, asked, rate) for takes in asked.returns},
        witness=None if asked.witness is None else _sounds(asked.witness, asked, rate),
        sends=asked.sends,
        later_frames=asked.later_frames,
        celsius=asked.celsius,
    )


def _check(asked: CompareSounds, rate: int) -> None:
    seconds = asked.frames / rate
    if not SHORTEST_S <= seconds <= LONGEST_S:
        raise UseError(
            f"a stretch of {seconds:.1f} s was asked for; {SHORTEST_S:g} to {LONGEST_S:g} s can be compared"
        )
    names = [takes.name for takes in asked.returns]
    if not names or len(set(names)) < len(names):
        raise UseError("name the returns to be compared, each once")


def _sounds(takes: Takes, asked: CompareSounds, rate: int) -> Sounds:
    return Sounds(
        kept=_read(takes.kept, asked, rate),
        again=None if takes.again is None else _read(takes.again, asked, rate),
        now=_read(takes.now, asked, rate),
    )


def _read(recorded: Recorded, asked: CompareSounds, rate: int) -> NDArray[np.float64]:
    with closing(SourceFile(Path(recorded.path))) as sound:
        if sound.rate != rate:
            raise UseError(
                f"{asked.di.path} has {rate} Hz and {sound.path} {sound.rate} Hz;"
                " convert one to the rate of the other first"
            )
        if recorded.at_frame < 0 or recorded.at_frame + asked.frames > sound.frames:
            raise UseError(
                f"{sound.path} does not hold the whole stretch; record it again or choose an earlier one"
            )
        return sound.read(recorded.at_frame, asked.frames, channel=recorded.channel)
