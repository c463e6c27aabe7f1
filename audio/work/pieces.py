"""Pieces of sound for the listening page: added up, dithered to 16 bits, FLAC inside a line of script.

A page that is opened from disk may not read files, but it may load scripts; so each piece is one, and calls
the page with its sound. Pieces are cut, never faded: played one behind the other they are the whole again.
"""

from __future__ import annotations

import hashlib
import io
from base64 import b64encode
from contextlib import ExitStack, closing
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import soundfile

from audio.files.source import SourceFile
from audio.files.text import write_atomic
from audio.vocab.errors import UseError
from audio.vocab.units import ratio_from_db
from audio.work.loading import LOADING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audio.vocab.layers import Layer
    from audio.vocab.requests import MakePiece

    Floats = NDArray[np.float64]

CALL = "secondpass.piece"
"""The page's function that takes a piece: what track it is of, its number, its FLAC file in base64."""

STOP_DB = 110.0
"""How far what would come back as an alias is held down: under the dither of 16 bits."""

_PASS_HZ = 20_000.0
_FULL = 2**15


def make_piece(asked: MakePiece) -> None:
    """Write a piece; `UseError` if a file cannot be read, `OSError` if the disk refuses."""
    sound = np.stack([_channel(layers, asked) for layers in asked.channels], axis=1)
    codes = _dithered(sound * ratio_from_db(asked.gain_db), _dither(asked))
    flac = io.BytesIO()
    soundfile.write(flac, codes, asked.sample_rate // asked.by, "PCM_16", format="FLAC")
    text = b64encode(flac.getvalue()).decode("ascii")
    write_atomic(Path(asked.to), f'{CALL}("{asked.track}",{asked.number},"{text}");\n')


def _channel(layers: Sequence[Layer], asked: MakePiece) -> Floats:
    """Return (frames // by,) of the sum of some files."""
    if asked.by == 1:
        return _summed(layers, asked, asked.from_frame, asked.frames)
    taps = decimator(asked.sample_rate, by=asked.by)
    margin = taps.size // 2
    wide = _summed(layers, asked, asked.from_frame - margin, asked.frames + 2 * margin)
    # Row by row what the filter sees around each frame that is left.
    seen = np.lib.stride_tricks.sliding_window_view(wide, taps.size)[: asked.frames : asked.by]
    return np.asarray(seen @ taps)


def _summed(layers: Sequence[Layer], asked: MakePiece, at: int, frames: int) -> Floats:
    """Return (frames,) of some files added up, from a frame of their timeline on."""
    total = np.zeros(frames)
    with ExitStack() as open_files:
        for layer in layers:
            sound = open_files.enter_context(closing(SourceFile(Path(layer.path))))
            if sound.rate != asked.sample_rate:
                raise UseError(
                    f"{layer.path} is at {sound.rate} Hz, its part at {asked.sample_rate} Hz: they must"
                    " agree; convert it"
                )
            there = sound.read(at - layer.at_frame, frames, channel=layer.channel)
            total += there * ratio_from_db(layer.gain_db)
    if not np.all(np.isfinite(total)):
        raise UseError(f"{layers[0].path} holds a sample that is no number; export it again")
    return total


@lru_cache(maxsize=4)
def decimator(rate: int, *, by: int) -> Floats:
    """Return the filter before frames are left out: symmetric, so that nothing is delayed.

    Flat to 20 kHz, `STOP_DB` down from half the new rate on (Kaiser's window and his estimate of its
    length, as scipy has them).
    """
    with LOADING:
        from scipy import signal  # noqa: PLC0415 - only what is over 48 kHz needs it

    half = rate / by / 2.0
    passes = min(_PASS_HZ, half * 10.0 / 11.0)
    taps, beta = signal.kaiserord(STOP_DB, (half - passes) / (rate / 2.0))
    middle = (half + passes) / 2.0
    found = signal.firwin(taps | 1, middle, window=("kaiser", beta), fs=rate)
    return np.asarray(found, dtype=np.float64)


def _dither(asked: MakePiece) -> np.random.Generator:
    """Return the source of a piece's dither: its own, and the same whenever it is made again."""
    digest = hashlib.sha256(f"{asked.track} {asked.number}".encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "big"))


def _dithered(sound: Floats, dither: np.random.Generator) -> NDArray[np.int16]:
    """Return (frames, channels) as codes of 16 bits, triangular dither of ± 1 code added.

    Its mean and its noise's power no longer depend on the sound then (Lipshitz, Wannamaker, Vanderkooy
    1992). What lies outside the files is left silent: so it weighs nothing.
    """
    noise = dither.random(sound.shape) - dither.random(sound.shape)
    codes = np.round(sound * _FULL + np.where(_outside(sound), 0.0, noise))
    return np.clip(codes, -_FULL, _FULL - 1).astype(np.int16)


def _outside(sound: Floats) -> NDArray[np.bool_]:
    """Return which frames are digital silence at the piece's ends."""
    heard = np.flatnonzero(np.any(sound != 0.0, axis=1))
    outside = np.ones(sound.shape, dtype=bool)
    if heard.size:
        outside[heard[0] : heard[-1] + 1] = False
    return outside
