"""Bursts to a file, and bursts and steady tones from recordings."""

from __future__ import annotations

from pathlib import Path

from audio.files.source import SourceFile
from audio.measure.bursts import read_bursts, steady_levels_dbfs
from audio.signals.bursts import bursts
from audio.vocab.bursts import BurstReading, Bursts
from audio.vocab.requests import MakeBursts, ReadBursts, ReadSteady
from audio.work.clicks import write_floats
from audio.work.growing import GrowingCapture


def make_bursts(asked: MakeBursts) -> Bursts:
    """Write bursts as a mono 32-bit float WAV file, over whatever is there."""
    signal, made = bursts(rate=asked.sample_rate, level_dbfs=asked.level_dbfs)
    write_floats(asked.path, signal, rate=asked.sample_rate, what="the set-up tone")
    return made


def read_recorded(asked: ReadBursts) -> tuple[BurstReading, ...]:
    """Find bursts in every channel of a recording."""
    sound = SourceFile(Path(asked.path))
    try:
        frames = min(sound.frames, asked.bursts.frames)
        channels = [sound.read(0, frames, channel=c) for c in range(sound.channels)]
    finally:
        sound.close()
    return tuple(read_bursts(channel, asked.bursts) for channel in channels)


def read_steady(asked: ReadSteady) -> tuple[float, ...]:
    """Return the levels of a steady tone in what there is of a capture, dBFS."""
    capture = GrowingCapture(Path(asked.path), rate=asked.sample_rate)
    sound = capture.read(0, capture.frames)
    return steady_levels_dbfs(sound, hz=asked.hz, rate=asked.sample_rate)
