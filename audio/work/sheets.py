"""A sound for the recall sheet: each file read once, measured over the phrase and drawn."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files.source import SourceFile
from audio.handover.pictures import Curve, draw_thirds, draw_wave
from audio.measure.levels import window_levels_dbfs
from audio.measure.outline import lows_and_highs
from audio.measure.rests import RunningRests
from audio.measure.sound_levels import sound_levels
from audio.vocab.errors import UseError
from audio.vocab.sheet import FileTold, SoundTold

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audio.measure.outline import Codes
    from audio.vocab.layers import Layer
    from audio.vocab.requests import TellSound

    Floats = NDArray[np.float64]

COLUMNS = 600
"""Stretches of a waveform: as many as are seen across a page."""

LONGEST_S = 60
"""Of a phrase: it is held in memory."""

_AT_ONCE = 262_144
"""Frames in memory at a time, besides the phrase."""


@dataclass(frozen=True, slots=True)
class _Heard:
    """What was read of one file."""

    phrase: Floats
    """Zeros where the file has nothing."""
    lows: Codes
    highs: Codes
    bin_frames: int
    frames: int
    """Of the file."""


def tell_sound(asked: TellSound) -> SoundTold:
    """Measure and draw a sound.

    Parameters
    ----------
    asked
        Its files, where they lie, and the phrase.

    Returns
    -------
    SoundTold
        In the order they were asked for.

    Raises
    ------
    UseError
        If a file cannot be read, has no such channel, another rate than the DI's or samples that are no
        numbers, or the phrase holds no frame or more than a minute.
    """
    with closing(SourceFile(Path(asked.di.path))) as sound:
        rate = sound.rate
        if not 0 < asked.frames <= LONGEST_S * rate:
            raise UseError(
                f"a phrase of {asked.frames} frames was asked for; one frame to a minute can be told"
            )
        played = _piece(sound, asked.di, asked.from_frame, asked.frames)
    di = _file(asked.di.name, played, played, rate=rate)
    files = tuple(_drawn(one, asked, played, rate=rate) for one in asked.files)
    originals = tuple(_over_the_phrase(one, asked, played, rate=rate) for one in asked.originals)
    return SoundTold(di=di, files=files, originals=originals, thirds=_thirds(files, originals))


def _drawn(layer: Layer, asked: TellSound, played: Floats, *, rate: int) -> FileTold:
    with closing(SourceFile(Path(layer.path))) as sound:
        _refuse_other_rate(sound, rate)
        heard = _read_through(sound, layer, asked)
    told = _file(layer.name, heard.phrase, played, rate=rate)
    wave = draw_wave(
        heard.lows,
        heard.highs,
        from_s=layer.at_frame / rate,
        bin_s=heard.bin_frames / rate,
        to_s=(layer.at_frame + heard.frames) / rate,
        phrase=(asked.from_frame / rate, (asked.from_frame + asked.frames) / rate),
        bars=asked.bars,
    )
    return FileTold(
        name=told.name,
        levels=told.levels,
        noise_dbfs=told.noise_dbfs,
        hum_hz=told.hum_hz,
        hum_dbfs=told.hum_dbfs,
        wave=wave,
    )


def _over_the_phrase(layer: Layer, asked: TellSound, played: Floats, *, rate: int) -> FileTold:
    with closing(SourceFile(Path(layer.path))) as sound:
        _refuse_other_rate(sound, rate)
        phrase = _piece(sound, layer, asked.from_frame, asked.frames)
    return _file(layer.name, phrase, played, rate=rate)


def _read_through(sound: SourceFile, layer: Layer, asked: TellSound) -> _Heard:
    """Read a file from its first frame to its last, once."""
    phrase = np.zeros(asked.frames)
    phrase_at = asked.from_frame - layer.at_frame
    bin_frames = max(1, -(-sound.frames // COLUMNS))
    step = bin_frames * max(1, _AT_ONCE // bin_frames)
    lows, highs = [], []
    for at in range(0, sound.frames, step):
        piece = _numbers(sound, at, min(step, sound.frames - at), layer.channel)
        low, high = lows_and_highs(piece, bin_frames=bin_frames)
        lows.append(low)
        highs.append(high)
        first, last = max(at, phrase_at), min(at + piece.size, phrase_at + phrase.size)
        if first < last:
            phrase[first - phrase_at : last - phrase_at] = piece[first - at : last - at]
    return _Heard(phrase, np.concatenate(lows), np.concatenate(highs), bin_frames, sound.frames)


def _piece(sound: SourceFile, layer: Layer, from_frame: int, frames: int) -> Floats:
    return _numbers(sound, from_frame - layer.at_frame, frames, layer.channel)


def _numbers(sound: SourceFile, at: int, frames: int, channel: int) -> Floats:
    piece = sound.read(at, frames, channel=channel)
    if not np.isfinite(piece).all():
        raise UseError(f"{sound.path} holds a sample that is no number; export it again")
    return piece


def _refuse_other_rate(sound: SourceFile, rate: int) -> None:
    if sound.rate != rate:
        raise UseError(
            f"{sound.path} has {sound.rate} Hz and its DI {rate} Hz; convert one to the rate of the other"
        )


def _file(name: str, phrase: Floats, played: Floats, *, rate: int) -> FileTold:
    levels = sound_levels((phrase,), rate=rate, speakers=1)
    window = rate // 20
    rests = RunningRests(window=window, rate=rate)
    rests.feed(phrase)
    rest = rests.rest(
        window_levels_dbfs(played, window=window), window_levels_dbfs(phrase, window=window)
    )
    hum = rest.hum if rest else None
    return FileTold(
        name=name,
        levels=levels,
        noise_dbfs=rest.noise_dbfs if rest else None,
        hum_hz=hum.hz if hum else None,
        hum_dbfs=hum.dbfs if hum else None,
    )


def _thirds(files: Sequence[FileTold], originals: Sequence[FileTold]) -> str:
    curves = [_curve(str(number), one) for number, one in enumerate(files, start=1)]
    first = [_curve(chr(ord("a") + at % 26), one) for at, one in enumerate(originals)]
    return draw_thirds(curves, first)


def _curve(key: str, one: FileTold) -> Curve:
    """Return third-octave levels over the loudness; over the RMS of what has none."""
    loud = one.levels.loudness_lufs
    level = one.levels.rms_dbfs if loud is None else loud
    thirds = one.levels.thirds
    return Curve(key, tuple(t.hz for t in thirds), tuple(t.dbfs - level for t in thirds))
