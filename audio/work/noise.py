"""The noise of resting returns, from captures that may still grow."""

from __future__ import annotations

from pathlib import Path

from audio.measure.noise_floor import noise_floor
from audio.vocab.levels import NoiseFloor
from audio.vocab.requests import ReadNoise
from audio.work.growing import GrowingCapture


def read_noise(asked: ReadNoise) -> tuple[NoiseFloor, ...]:
    """Take apart what there is of each capture from a frame on."""
    return tuple(_floor(Path(path), asked) for path in asked.paths)


def _floor(path: Path, asked: ReadNoise) -> NoiseFloor:
    capture = GrowingCapture(path, rate=asked.sample_rate)
    left = max(capture.frames - asked.from_frame, 0)
    return noise_floor(capture.read(asked.from_frame, left), rate=asked.sample_rate)
