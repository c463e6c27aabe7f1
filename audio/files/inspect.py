"""Look a DI through once: what it is, its checksum, how loud it is, and whether it is whole."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from audio.files import chunks
from audio.files.source import no_channel, open_sound
from audio.vocab.errors import UseError
from audio.vocab.results import AudioFacts, SoundHead
from audio.vocab.units import db_from_ratio

_SAMPLES_AT_ONCE = 1 << 22
"""Of all channels in memory at a time, where a window is not longer."""

LOUDEST = 1e6
"""120 dB over full scale: a larger sample is no sound, and its square may be no number."""


def head(path: Path) -> SoundHead:
    """Return what a sound file says of itself; what is wrong with it stands in the answer.

    Parameters
    ----------
    path
        WAV, RF64, AIFF or FLAC.

    Returns
    -------
    SoundHead
        Nothing of what it holds was looked at.
    """
    try:
        sound, _ = open_sound(path)
    except UseError as error:
        return SoundHead(path=str(path), problem=str(error))
    with sound, path.open("rb") as file:
        return SoundHead(
            path=str(path),
            sample_rate=sound.samplerate,
            channels=sound.channels,
            frames=sound.frames,
            time_reference=chunks.time_reference(file),
        )


def inspect(path: Path, *, channel: int = 0) -> AudioFacts:
    """Read a sound file through and return what it is and how loud one channel is.

    Parameters
    ----------
    path
        WAV, RF64, AIFF or FLAC.
    channel
        The channel that is measured, from 0.

    Returns
    -------
    AudioFacts
        `peak_dbfs` of the samples; `loudest_dbfs`, the largest RMS of 50 ms windows that follow each
        other without overlap, the last one filled with silence.

    Raises
    ------
    UseError
        One sentence: missing, a folder, empty, no sound file, not of an accepted kind, no frames, no
        such channel, cut short, or holding samples that are no numbers or beyond all sound.
    """
    sound, container = open_sound(path)
    with sound:
        if not 0 <= channel < sound.channels:
            raise UseError(no_channel(path, sound.channels, channel))
        with path.open("rb") as file:
            claimed = chunks.claimed_frames(file)
            time_reference = chunks.time_reference(file)
            file.seek(0)
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        frames, peak, loudest = _read_through(path, sound, channel)
        _refuse_cut_short(path, there=frames, claimed=max(claimed or 0, sound.frames))
        return AudioFacts(
            path=str(path),
            container=container,
            encoding=sound.subtype,
            sample_rate=sound.samplerate,
            channels=sound.channels,
            frames=frames,
            time_reference=time_reference,
            file_sha256=digest,
            channel=channel,
            peak_dbfs=db_from_ratio(peak),
            loudest_dbfs=db_from_ratio(loudest),
        )


def _read_through(path: Path, sound: Any, channel: int) -> tuple[int, float, float]:
    window = max(1, round(sound.samplerate * 0.05))
    at_once = window * max(1, _SAMPLES_AT_ONCE // (window * sound.channels))
    frames, peak, loudest = 0, 0.0, 0.0
    while True:
        samples = _next_samples(path, sound, channel, at_once, frames)
        if samples.size == 0:
            return frames, peak, loudest
        if not (np.abs(samples) <= LOUDEST).all():
            raise UseError(_no_number(path, sound, samples, frames))
        peak = max(peak, float(np.abs(samples).max()))
        loudest = max(loudest, _loudest(samples, window))
        frames += samples.size


def _next_samples(
    path: Path, sound: Any, channel: int, frames: int, done: int
) -> NDArray[np.float64]:
    try:
        block: NDArray[np.float64] = sound.read(frames, dtype="float64", always_2d=True)
    except soundfile.LibsndfileError as error:
        raise UseError(
            f"{path} is damaged after frame {done}: it cannot be decoded; copy or export it again"
        ) from error
    return block[:, channel]


def _loudest(samples: NDArray[np.float64], window: int) -> float:
    filled = np.pad(samples, (0, -samples.size % window)).reshape(-1, window)
    return float(np.sqrt(np.einsum("ij,ij->i", filled, filled).max() / window))


def _no_number(path: Path, sound: Any, samples: NDArray[np.float64], before: int) -> str:
    at = int(np.argmin(np.abs(samples) <= LOUDEST))
    frame = before + at
    what = "far louder than any sound" if np.isfinite(samples[at]) else "that is no number"
    return (
        f"{path} holds a sample {what} at frame {frame} "
        f"({frame / sound.samplerate:.3f} s); export it again, as 24-bit integers"
    )


def _refuse_cut_short(path: Path, *, there: int, claimed: int) -> None:
    if there < claimed:
        raise UseError(
            f"{path} is cut short: its header claims {claimed} frames, {there} are there; "
            "copy or export it again"
        )
