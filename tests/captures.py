"""Captures and real playing for the tests of files."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from needs import GUITARS
from numpy.typing import NDArray

from audio.files.capture import CaptureFile

MADE_AT = datetime(2026, 11, 25, 9, 1, 2)  # noqa: DTZ001  bext has no place for a zone
BEYOND_32_BITS = 2**32 + 48_000 * 3600


def start(path: Path, **changes: Any) -> CaptureFile:
    """Begin a capture; mono, 48 kHz, 24-bit unless changed."""
    settings: dict[str, Any] = {
        "channels": 1,
        "rate": 48_000,
        "depth": 24,
        "time_reference": BEYOND_32_BITS,
        "description": "rhythm-left 007 close",
        "made_at": MADE_AT,
    }
    return CaptureFile(path, **(settings | changes))


def ramp(first: int, frames: int, channels: int = 1) -> NDArray[np.int32]:
    """Frames of a stream in which every sample differs from its neighbours; 24-bit codes."""
    counts = np.arange(first * channels, (first + frames) * channels, dtype=np.int64)
    codes = (counts * 7919) % (1 << 24) - (1 << 23)
    return (codes << 8).astype(np.int32).reshape(frames, channels)


def phrase(*, channels: int = 1) -> NDArray[np.float32]:
    """Real playing: the guitar recordings one after another, shape (frames, channels)."""
    parts = [soundfile.read(path, dtype="float32", always_2d=True)[0] for path in GUITARS]
    mono = np.concatenate([part[:48_000, :1] for part in parts])
    return np.hstack([np.roll(mono, 441 * channel) for channel in range(channels)])
