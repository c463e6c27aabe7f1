"""Sounds to be matched: microphones written to files, and the same mixed sample by sample."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pyloudnorm
import soundfile
from scipy import signal

from audio.vocab.layers import Layer
from audio.vocab.requests import MatchSounds
from audio.vocab.units import ratio_from_db

RATE = 48_000

Sound = tuple[Layer, ...]


def write(path: Path, sound: np.ndarray, *, rate: int = RATE, **where: float) -> Layer:
    """Write a sound as 32-bit floats and return the layer of its first channel."""
    soundfile.write(path, sound, rate, "FLOAT")
    return Layer(path=str(path), **where)


def asked(*sounds: Sequence[Layer], frames: int, **more: object) -> MatchSounds:
    whole = {"from_frame": 0, "sample_rate": RATE} | more
    return MatchSounds(sounds=tuple(map(tuple, sounds)), frames=frames, **whole)


def mixed(sound: Sequence[Layer], *, from_frame: int = 0, frames: int) -> np.ndarray:
    """Return a stretch of a mix, read and added up sample by sample."""
    total = np.zeros(frames)
    for layer in sound:
        samples, _ = soundfile.read(layer.path, always_2d=True)
        one = samples[:, layer.channel] * ratio_from_db(layer.gain_db)
        first = layer.at_frame - from_frame
        here = slice(max(first, 0), min(first + one.size, frames))
        if here.start < here.stop:
            total[here] += one[here.start - first : here.stop - first]
    return total


def referee_lufs(sound: np.ndarray, *, rate: int = RATE) -> float:
    with np.errstate(divide="ignore"):  # it takes the logarithm of silent blocks, too
        return float(pyloudnorm.Meter(rate).integrated_loudness(sound))


def eight_times(sound: np.ndarray) -> np.ndarray:
    """Return a sound at eight times its rate, by a filter that shares no code with ours."""
    taps = signal.firwin(2 * 64 * 8 + 1, 0.98 / 8, window=("kaiser", 10.0))
    return np.asarray(signal.resample_poly(sound, 8, 1, window=taps))


def dbtp(fine: np.ndarray) -> float:
    return float(20 * np.log10(np.max(np.abs(fine))))


def microphones(seed: int, *, seconds: float, many: int, rate: int = RATE) -> np.ndarray:
    """Return one amp at several microphones, (many, frames): other colours, distances, levels, polarities.

    Bursts of driven noise with rests, so that the gates have something to do; no two seeds sound alike.
    """
    draw = np.random.default_rng(seed)
    frames = round(seconds * rate)
    strikes = np.exp(
        -((np.arange(frames) / rate * draw.uniform(1.5, 4.0)) % 1.0) * draw.uniform(1, 12)
    )
    rests = np.where(np.arange(frames) / rate % 2.0 < draw.uniform(1.2, 2.0), 1.0, 0.003)
    played = np.tanh(draw.uniform(0.5, 8.0) * strikes * rests * draw.standard_normal(frames))
    heard = []
    for _ in range(many):
        low, high = draw.uniform(60, 400), draw.uniform(1500, 9000)
        band = signal.butter(2, (low, high), "bandpass", fs=rate, output="sos")
        late = np.roll(played, draw.integers(0, 400))
        late[:400] = 0.0
        one = signal.sosfilt(band, late) + 1e-4 * draw.standard_normal(frames)
        heard.append(one * draw.choice([-1.0, 1.0]) * ratio_from_db(draw.uniform(-24, -4)))
    return np.stack(heard)


def sounds_of(folder: Path, numbers: Sequence[int], *, seconds: float, many: int) -> list[Sound]:
    """Write one sound for each number, each at a balance of its own."""
    found = []
    for number in numbers:
        draw = np.random.default_rng((number, 1))
        every = microphones(number, seconds=seconds, many=many)
        found.append(
            tuple(
                write(folder / f"{number}-{k}.wav", one, gain_db=draw.uniform(-20.0, 0.0))
                for k, one in enumerate(every)
            )
        )
    return found
