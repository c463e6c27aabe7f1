"""Test clicks to and from files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import soundfile

from audio.files.source import SourceFile
from audio.measure.clicks import read_clicks
from audio.signals.click import click_train
from audio.vocab.errors import UseError
from audio.vocab.requests import MakeClicks, ReadClicks
from audio.vocab.results import ClickReading, ClickTrain

if TYPE_CHECKING:
    from numpy.typing import NDArray


def make_clicks(asked: MakeClicks) -> ClickTrain:
    """Write a click train as a mono 32-bit float WAV file, over whatever is there."""
    signal, train = click_train(
        rate=asked.sample_rate, level_dbfs=asked.level_dbfs, clicks=asked.clicks
    )
    write_floats(asked.path, signal, rate=asked.sample_rate, what="the test click")
    return train


def write_floats(path: str, signal: NDArray[np.float64], *, rate: int, what: str) -> None:
    """Write a (frames,) signal as a mono 32-bit float WAV file, over whatever is there."""
    try:
        soundfile.write(path, signal.astype(np.float32), rate, "FLOAT", format="WAV")
    except soundfile.LibsndfileError as error:
        raise UseError(f"{what} cannot be written to {path}: {error.error_string}") from error


def read_recording(asked: ReadClicks) -> tuple[ClickReading, ...]:
    """Find a click train in every channel of a recording."""
    sound = SourceFile(Path(asked.path))
    try:
        if sound.rate != asked.train.sample_rate:
            raise UseError(
                f"{asked.path} is at {sound.rate}, the test click at {asked.train.sample_rate}: "
                "they must agree"
            )
        frames = min(sound.frames, asked.train.frames)
        channels = [sound.read(0, frames, channel=c) for c in range(sound.channels)]
    finally:
        sound.close()
    sought = range(len(channels)) if asked.arrivals_of is None else asked.arrivals_of
    return tuple(
        read_clicks(channel, asked.train, by_peak=number not in sought)
        for number, channel in enumerate(channels)
    )
