"""The count-in to a file."""

from __future__ import annotations

from audio.signals.count_in import counted
from audio.vocab.requests import MakeCountIn
from audio.work.clicks import write_floats


def make_count_in(asked: MakeCountIn) -> None:
    """Write clicks on some frames as a mono 32-bit float WAV file, over whatever is there."""
    signal = counted(
        asked.frames, asked.accents, level_dbfs=asked.level_dbfs, rate=asked.sample_rate
    )
    write_floats(asked.path, signal, rate=asked.sample_rate, what="the count-in")
