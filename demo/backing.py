"""The demo's backing track: drums, bass and a pad to play `demo.score.LAST_FERRY` to."""

from __future__ import annotations

from random import Random

import numpy as np
from numpy.typing import NDArray

from demo.make_dis import RATE
from demo.score import LAST_FERRY, Song
from demo.strings import Signal, Touch, frequency, pluck

PEAK = 10.0 ** (-8.0 / 20.0)
FADE_S = 0.02

BASS = (28, 31, 33, 36)
"""MIDI notes of each bar's root: E, G, A, C."""
PAD = ((52, 59, 64, 67), (55, 59, 62, 67), (52, 57, 60, 64), (55, 60, 64, 67))
"""The chord over it."""
_KICKS = (0.0, 2.0, 2.5)
_SNARES = (1.0, 3.0)
_BASS_EIGHTHS = (0, 3, 4, 6)
"""Where the bass plays a new note; each is held until the next."""
_BASS_SOFT = 30
"""Frames the bass is averaged over, twice: the treble of fresh strings is taken off."""


def make_backing() -> NDArray[np.int16]:
    """Return the backing track as 16-bit codes.

    Returns
    -------
    NDArray
        Shape (frames, 2), left and right, as long as the song's DIs.
    """
    song = LAST_FERRY
    frames = round(song.seconds * RATE)
    centre, hats = _drums(song, frames)
    centre += _bass(song, frames)
    centre += _pad(song, frames)
    out = np.stack([centre + 0.8 * hats, centre + 1.2 * hats], axis=1)
    fade = round(FADE_S * RATE)
    out[-fade:] *= (np.arange(fade)[::-1] / fade)[:, None]
    codes: NDArray[np.int16] = np.round(out * (PEAK / np.abs(out).max() * 2.0**15)).astype(np.int16)
    return codes


def _drums(song: Song, frames: int) -> tuple[Signal, Signal]:
    """Return kick and snare together, and the hats, shape (frames,) each."""
    drums, hats = np.zeros(frames), np.zeros(frames)
    kick, snare, hat = _kick(), _snare(), _hat()
    for bar in range(song.bars):
        first = bar * song.quarters
        for beat in _KICKS:
            _add(drums, 0.6 * kick, song.at_s(first + beat))
        for beat in _SNARES:
            _add(drums, 0.45 * snare, song.at_s(first + beat))
        for eighth in range(2 * song.quarters):
            loud = 0.16 if eighth % 2 == 0 else 0.09
            _add(hats, loud * hat, song.at_s(first + eighth / 2))
    _add(drums, 0.6 * kick, song.at_s(song.bars * song.quarters))
    return drums, hats


def _bass(song: Song, frames: int) -> Signal:
    out = np.zeros(frames)
    ends = (*_BASS_EIGHTHS[1:], 2 * song.quarters)
    for bar, note in enumerate(BASS):
        for k, (eighth, end) in enumerate(zip(_BASS_EIGHTHS, ends, strict=True)):
            held = round((end - eighth) / 2 * 60.0 / song.bpm * RATE)
            touch = Touch(loud=0.7, pick=0.3)
            one = pluck(note, frames=held, rate=RATE, touch=touch, seed=9000 + bar * 10 + k)
            one *= _fall(held, rise_s=0.001, release_s=0.03)
            _add(out, 0.3 * one, song.at_s(bar * song.quarters + eighth / 2))
    round_tone = np.full(_BASS_SOFT, 1.0 / _BASS_SOFT)
    return np.convolve(np.convolve(out, round_tone)[:frames], round_tone)[:frames]


def _pad(song: Song, frames: int) -> Signal:
    """Return soft chords that swell in each bar."""
    out = np.zeros(frames)
    held = round(song.quarters * 60.0 / song.bpm * RATE)
    at = np.arange(held) / RATE
    swell = _fall(held, rise_s=0.6, release_s=0.25)
    for bar, chord in enumerate(PAD):
        for note in chord:
            turns = 2.0 * np.pi * frequency(note) * at
            tone = np.sin(turns) + 0.25 * np.sin(2.0 * turns)
            _add(out, 0.03 * swell * tone, song.at_s(bar * song.quarters))
    return out


def _kick() -> Signal:
    at = np.arange(round(0.28 * RATE)) / RATE
    turns = 48.0 * at + 3.2 * (1.0 - _decay(at, 0.035))  # falls from 140 Hz to 48 Hz
    return np.sin(2.0 * np.pi * turns) * _decay(at, 0.09) * _end(at)


def _snare() -> Signal:
    at = np.arange(round(0.22 * RATE)) / RATE
    rattle = _hiss(len(at), seed=2, smooth=2)
    tone = np.sin(2.0 * np.pi * 187.0 * at)
    return (0.7 * rattle * _decay(at, 0.05) + 0.6 * tone * _decay(at, 0.04)) * _end(at)


def _hat() -> Signal:
    at = np.arange(round(0.06 * RATE)) / RATE
    return np.diff(_hiss(len(at) + 1, seed=3, smooth=1)) * _decay(at, 0.012) * _end(at)


def _hiss(frames: int, *, seed: int, smooth: int) -> Signal:
    dice = Random(seed)  # noqa: S311 - its sequence is the same everywhere
    noise = np.array([2.0 * dice.random() - 1.0 for _ in range(frames + smooth - 1)])
    return np.convolve(noise, np.full(smooth, 1.0 / smooth), mode="valid")


def _decay(at: Signal, seconds: float) -> Signal:
    fallen: Signal = np.exp(-at / seconds)
    return fallen


def _end(at: Signal) -> Signal:
    """Return a ramp over the last tenth, so that nothing is cut off."""
    ramp: Signal = np.minimum(1.0, 10.0 * (1.0 - at / at[-1]))
    return ramp


def _fall(frames: int, *, rise_s: float, release_s: float) -> Signal:
    """Return 0 to 1 and back to 0."""
    rise, release = round(rise_s * RATE), round(release_s * RATE)
    at = np.arange(frames)
    return np.minimum(1.0, np.minimum((at + 1) / rise, (frames - 1 - at) / release))


def _add(out: Signal, one: Signal, at_s: float) -> None:
    start = round(at_s * RATE)
    until = min(len(out), start + len(one))
    out[start:until] += one[: until - start]
