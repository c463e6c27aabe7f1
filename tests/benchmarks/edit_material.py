"""Playing without a joint in it, of several kinds, and cuts of which the truth is known.

What is tuned on (`TUNED`) and what is judged on (`JUDGED`) share neither a recording nor a program of the
sound font nor a seed.
"""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import report  # noqa: F401 - makes the tests' own modules found
import soundfile
from needs import SAMPLES
from numpy.typing import NDArray
from scipy.signal import lfilter, resample_poly

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

FONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
RATE = 44_100
_OPEN = (40, 45, 50, 55, 59, 64)
_FADE_S = 0.03
_QUIET_S = 0.006
"""Of a recording before its first attack."""


@dataclass(frozen=True, kw_only=True)
class Kit:
    """What playing is made of."""

    recordings: tuple[str, ...]
    programs: tuple[int, ...]
    first_seed: int


TUNED = Kit(recordings=("guit_e_fifths", "guit_harmonics"), programs=(25, 27, 30), first_seed=1000)
JUDGED = Kit(recordings=("guit_em9", "guit_e_slide"), programs=(24, 26, 28, 29), first_seed=50_000)


def families(kit: Kit) -> dict[str, Callable[[int, float], Floats]]:
    """Return what makes playing of each kind from a seed and its seconds."""
    return {
        "recorded notes and chords": lambda seed, s: recorded(kit, seed, s),
        "recorded, palm muted": lambda seed, s: palm_muted(kit, seed, s),
        "recorded, distorted": lambda seed, s: distorted(kit, seed, s),
        "sound font": lambda seed, s: rendered(kit, seed, s),
        "plucked strings": plucked,
    }


def as_di(playing: Floats, *, seed: int) -> Singles:
    """Return playing as a DI of 24 bits: its level, and the noise of an input, drawn."""
    draw = np.random.default_rng([seed, 99])
    loud = playing / np.max(np.abs(playing)) * 10.0 ** (draw.uniform(-12.0, -3.0) / 20.0)
    noisy = loud + draw.standard_normal(loud.size) * 10.0 ** (draw.uniform(-105.0, -80.0) / 20.0)
    return (np.round(noisy * 2.0**23) / 2.0**23).astype(np.float32)


# ------------------------------------------------------------------ kinds of playing


def recorded(kit: Kit, seed: int, seconds: float) -> Floats:
    """Return notes and chords, each a recording's from its attack on, the one before faded under it."""
    draw = np.random.default_rng([seed, 1])
    lengths = _lengths(draw, seconds, 0.25, 1.4)
    return _strung([_note(kit, draw, size, mute=None) for size in lengths], draw)


def palm_muted(kit: Kit, seed: int, seconds: float) -> Floats:
    """Return short notes that die as a damped string does."""
    draw = np.random.default_rng([seed, 2])
    lengths = _lengths(draw, seconds, 0.1, 0.3)
    return _strung(
        [_note(kit, draw, size, mute=draw.uniform(0.02, 0.06)) for size in lengths], draw
    )


def distorted(kit: Kit, seed: int, seconds: float) -> Floats:
    """Return playing through a soft limiter of 10 to 30 dB, calculated at four times the rate."""
    draw = np.random.default_rng([seed, 3])
    clean = resample_poly(recorded(kit, seed + 7, seconds), 4, 1)
    driven = np.tanh(clean / np.max(np.abs(clean)) * 10.0 ** (draw.uniform(10.0, 30.0) / 20.0))
    return np.asarray(resample_poly(driven, 1, 4))


def plucked(seed: int, seconds: float) -> Floats:
    """Return Karplus and Strong's strings, a burst of noise going round in a low-passed loop (CMJ 1983)."""
    draw = np.random.default_rng([seed, 4])
    out = np.zeros(round((seconds + 3.0) * RATE))
    for size in _lengths(draw, seconds, 0.2, 0.8):
        for _ in range(int(draw.integers(1, 4))):
            at = int(draw.integers(0, round(seconds * RATE)))
            string = _string(draw, size)
            out[at : at + string.size] += string * draw.uniform(0.3, 1.0)
    return out[: round(seconds * RATE)]


def rendered(kit: Kit, seed: int, seconds: float) -> Floats:
    """Return a phrase of one of the sound font's guitars, played by fluidsynth without reverb."""
    draw = np.random.default_rng([seed, 5])
    program = kit.programs[seed % len(kit.programs)]
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder) / "x.mid", Path(folder) / "x.wav"
        midi.write_bytes(_midi(draw, program, seconds))
        subprocess.run(
            [
                "fluidsynth",
                "-ni",
                "-R0",
                "-C0",
                "-g0.7",
                f"-r{RATE}",
                "-Ofloat",
                f"-F{wave}",
                FONT,
                midi,
            ],
            check=True,
            capture_output=True,
        )
        both = soundfile.read(wave, always_2d=True)[0]
    return np.asarray(both.mean(axis=1)[: round(seconds * RATE)])


# ------------------------------------------------------------------ their parts


@cache
def _recording(name: str) -> Floats:
    whole = soundfile.read(SAMPLES / f"{name}.flac", always_2d=True)[0]
    return np.asarray(whole.mean(axis=1))


@cache
def _attacks(name: str) -> tuple[int, ...]:
    """Return where a recording's level of 5 ms rises by more than 6 dB."""
    sound, hop = _recording(name), RATE // 200
    level = np.sqrt(np.mean(sound[: sound.size // hop * hop].reshape(-1, hop) ** 2, axis=1))
    level = level + 1e-3 * np.max(level)
    rises = np.flatnonzero(level[2:] > 2.0 * level[:-2]) + 1
    return tuple(int(r) * hop for r in rises if r * hop < sound.size - RATE) or (0,)


def _note(kit: Kit, draw: np.random.Generator, size: int, *, mute: float | None) -> Floats:
    name = kit.recordings[int(draw.integers(len(kit.recordings)))]
    at = max(0, _attacks(name)[int(draw.integers(len(_attacks(name))))] - round(_QUIET_S * RATE))
    up = int(draw.integers(50, 80))
    cut = resample_poly(_recording(name)[at : at + size * 2], 64, up)[:size]
    cut = cut / max(float(np.max(np.abs(cut))), 1e-9) * draw.uniform(0.3, 1.0)
    if mute is not None:
        late = np.maximum(np.arange(cut.size) - _QUIET_S * RATE, 0.0)
        bend = np.sqrt(late**2 + 40.0**2) - 40.0  # no corner in the envelope
        cut = cut * np.exp(-bend / (mute * RATE))
    return np.asarray(cut)


def _strung(notes: list[Floats], draw: np.random.Generator) -> Floats:
    """Return notes one after the other, each faded in 5 ms, and out in 30 ms under the next."""
    fade, rise = round(_FADE_S * RATE), round(0.005 * RATE)
    out = np.zeros(sum(note.size for note in notes) + fade)
    at = 0
    for note in notes:
        bell = np.ones(note.size)
        bell[:rise] = np.sin(np.pi / 2 * np.arange(rise) / rise) ** 2
        bell[-fade:] *= np.cos(np.pi / 2 * np.arange(fade) / fade) ** 2
        out[at : at + note.size] += note * bell
        at += note.size - int(draw.integers(0, fade))
    return out[:at]


def _lengths(draw: np.random.Generator, seconds: float, low: float, high: float) -> list[int]:
    lengths: list[int] = []
    while sum(lengths) < (seconds + high) * RATE:
        lengths.append(round(draw.uniform(low, high) * RATE))
    return lengths


def _string(draw: np.random.Generator, size: int) -> Floats:
    pitch = 440.0 * 2.0 ** ((int(draw.choice(_OPEN)) + int(draw.integers(0, 12)) - 69) / 12.0)
    period = int(RATE / pitch)
    burst = lfilter([0.4], [1.0, -0.6], draw.uniform(-1.0, 1.0, period))
    loop = np.zeros(period + 2)
    loop[0], loop[period], loop[period + 1] = 1.0, -0.498, -0.498
    fed = np.concatenate((burst, np.zeros(size)))
    sound = lfilter([1.0], loop, fed)
    fade = RATE // 50
    sound[-fade:] *= np.cos(np.pi / 2 * np.arange(fade) / fade) ** 2
    return np.asarray(sound)


def _midi(draw: np.random.Generator, program: int, seconds: float) -> bytes:
    """Return a standard MIDI file, format 0, 500 ticks a second (its layout from memory)."""
    events = [(0, bytes((0xC0, program)))]
    at = 50
    while at < seconds * 500:
        step = int(draw.integers(50, 350))
        for string in range(int(draw.integers(1, 5))):
            key = _OPEN[(string + int(draw.integers(0, 3))) % 6] + int(draw.integers(0, 8))
            strum = at + 4 * string
            events.append((strum, bytes((0x90, key, int(draw.integers(50, 120))))))
            events.append((strum + step - 10, bytes((0x80, key, 64))))
        at += step
    events.append((at + 500, b"\xff\x2f\x00"))
    events.sort(key=lambda event: event[0])
    track, last = b"", 0
    for tick, event in events:
        track += _variable(tick - last) + event
        last = tick
    head = b"MThd" + (6).to_bytes(4, "big") + bytes((0, 0, 0, 1)) + (250).to_bytes(2, "big")
    return head + b"MTrk" + len(track).to_bytes(4, "big") + track


def _variable(number: int) -> bytes:
    """Return a number in MIDI's variable length: seven bits a byte."""
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(0x80 | number & 0x7F)
    return bytes(reversed(out))
