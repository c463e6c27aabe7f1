"""The set-up tone to a file."""

from __future__ import annotations

from audio.signals.tone import tone
from audio.vocab.requests import MakeTone
from audio.work.clicks import write_floats


def make_tone(asked: MakeTone) -> None:
    """Write a sine as a mono 32-bit float WAV file, over whatever is there."""
    signal = tone(
        hz=asked.hz, level_dbfs=asked.level_dbfs, seconds=asked.seconds, rate=asked.sample_rate
    )
    write_floats(asked.path, signal, rate=asked.sample_rate, what="the set-up tone")
