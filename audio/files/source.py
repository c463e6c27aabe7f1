"""Sound files that are played: what is accepted, and reading one from any place."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from audio.files import platform
from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.units import FASTEST_RATE

ACCEPTED = "WAV, RF64, AIFF and FLAC are accepted"
_CONTAINERS = {"WAV": "WAV", "WAVEX": "WAV", "RF64": "RF64", "AIFF": "AIFF", "FLAC": "FLAC"}
_BITS = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32}
_FLOATS = ("FLOAT", "DOUBLE")

MOST_CHANNELS = 256
"""Channels of one file; more is a damaged header, and a block of them would not fit in memory."""

_LONGEST_PATH = 900

_AHEAD_FRAMES = 8192
"""Read at a time: one call of the library costs as much for 512 frames as for thousands."""


def open_sound(path: Path) -> tuple[Any, str]:
    """Open a sound file of an accepted kind.

    Parameters
    ----------
    path
        Where it is.

    Returns
    -------
    tuple
        The open ``soundfile.SoundFile``, and its container: ``WAV``, ``RF64``, ``AIFF`` or ``FLAC``.

    Raises
    ------
    UseError
        If it is missing, a folder, empty, unreadable, no sound file, of a kind not accepted, holds no
        frames, or claims what no sound file has.
    """
    _refuse_what_is_no_file(path)
    try:
        sound = soundfile.SoundFile("./-" if str(path) == "-" else str(path))  # else standard input
    except UnicodeEncodeError as error:
        raise UseError(f"{path} has bytes in its name that are no text; rename it") from error
    except (soundfile.LibsndfileError, TypeError) as error:
        raise UseError(f"{path} is not a sound file that can be read; {ACCEPTED}") from error
    container = _CONTAINERS.get(sound.format)
    if container is None or sound.subtype not in (*_BITS, *_FLOATS):
        what = sound.format_info if container is None else sound.subtype_info
        sound.close()
        raise UseError(f"{path} is {what}; {ACCEPTED}, uncompressed or lossless: export it as one")
    if problem := _impossible(sound):
        sound.close()
        raise UseError(f"{path} {problem}; export it again")
    return sound, container


class SourceFile:
    """A sound file kept open for playing; reading on where the last read ended needs no seek.

    Parameters
    ----------
    path
        A file of an accepted kind; the others are refused as by `open_sound`.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._sound, _ = open_sound(path)
        self.frames: int = self._sound.frames
        self.rate: int = self._sound.samplerate
        self.channels: int = self._sound.channels
        self.integer_bits: int | None = _BITS.get(self._sound.subtype)
        """Bits of an integer sample, None for floats."""
        self._block: NDArray[np.float64] = np.zeros((0, self.channels))
        self._block_at = 0

    def read(self, start: int, frames: int, *, channel: int) -> NDArray[np.float64]:
        """Return some frames of one channel.

        Parameters
        ----------
        start
            First frame; may lie before 0 or past the end.
        frames
            How many, 0 or more.
        channel
            From 0.

        Returns
        -------
        NDArray[np.float64]
            Shape (frames,), full scale 1.0, zeros outside the file. Integer samples are exact: code
            over 2**(bits − 1).

        Raises
        ------
        UseError
            If the file has no such channel, or cannot be read any more.
        """
        if not 0 <= channel < self.channels:
            raise UseError(no_channel(self.path, self.channels, channel))
        out = np.zeros(frames)
        at, last = max(start, 0), min(start + frames, self.frames)
        while at < last:
            there = self._block_with(at)[: last - at, channel]
            if there.size == 0:
                break  # the file became shorter since it was opened
            out[at - start : at - start + there.size] = there
            at += there.size
        return out

    def close(self) -> None:
        """Close the file."""
        self._sound.close()

    def _block_with(self, at: int) -> NDArray[np.float64]:
        """Return what is in memory from frame `at` on, reading ahead if that is nothing."""
        if not self._block_at <= at < self._block_at + self._block.shape[0]:
            self._read_ahead(at)
        return self._block[at - self._block_at :]

    def _read_ahead(self, at: int) -> None:
        try:
            if at != self._block_at + self._block.shape[0]:
                self._sound.seek(at)
            self._block = self._sound.read(_AHEAD_FRAMES, dtype="float64", always_2d=True)
        except soundfile.LibsndfileError as error:
            raise UseError(
                f"{self.path} cannot be read at frame {at}; see whether its disk is still there"
            ) from error
        self._block_at = at


def _impossible(sound: Any) -> str:
    """Return what a header says that cannot be, empty if nothing."""
    if sound.frames <= 0:
        return "holds no audio, its header says 0 frames"
    if not 1 <= sound.channels <= MOST_CHANNELS:
        return f"is damaged: its header says {sound.channels} channels"
    if not 1 <= sound.samplerate <= FASTEST_RATE:
        return f"is damaged: its header says {sound.samplerate} frames a second"
    return ""


def no_channel(path: Path, channels: int, channel: int) -> str:
    """Return the sentence for a channel, counted from 0, that a file does not have."""
    have = f"{channels} channel{'s' if channels > 1 else ''}"
    return f"{path} has {have}; channel {channel + 1} was asked for: name one that is there"


def _named(path: Path) -> str:
    """Return a path for a message, in short where it would fill the screen."""
    return str(path) if len(str(path)) <= _LONGEST_PATH else shown(str(path))


def _refuse_what_is_no_file(path: Path) -> None:
    try:
        with platform.open_at_once(path) as file:
            ordinary = stat.S_ISREG(os.fstat(file.fileno()).st_mode)
            empty = ordinary and not file.read(1)
    except IsADirectoryError:
        raise UseError(f"{path} is a folder; name a sound file in it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise UseError(f"{_named(path)} cannot be opened: {reason}; check its name") from error
    if not ordinary:
        raise UseError(f"{path} is a device or a pipe; name a sound file")
    if empty:
        raise UseError(f"{path} is empty; export or copy it again")
