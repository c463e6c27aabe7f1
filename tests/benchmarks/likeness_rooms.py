"""Pairs of rooms that differ by one thing, for `bench_likeness`: everything follows from a seed.

Pedals, amp and mains are the simulated room's own; cabinets are members nobody has heard before. The chain
runs for a while before the phrase begins, another while each time, so that what moves by itself stands
elsewhere; noise and hum are drawn anew for each take.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import soundfile
from material import RATE, Floats, palm_muted
from playing import phrase
from scipy import signal

from audio.device.simulated.amp import Amplifier
from audio.device.simulated.cabinet import random_cabinet
from audio.device.simulated.filters import SINC_LATENCY, fractional_kernel, split_delay
from audio.device.simulated.lines import GROUND, MAINS, hum
from audio.device.simulated.near import with_distance
from audio.device.simulated.pedals.chain import Chain
from audio.vocab.air import ROOM_CELSIUS, speed_of_sound_m_s
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import Amp, Bell

Change = Literal["nothing", "drive", "distance", "tone", "level"]
CHANGES: tuple[Change, ...] = ("nothing", "drive", "distance", "tone", "level")
AMOUNTS = {"nothing": 0.0, "drive": 1.0, "distance": 2.0, "tone": 2.0, "level": 1.0}
TONE_HZ, TONE_Q = 3000.0, 1.4
"""An octave wide, as presence controls are (common practice, no source)."""

PHRASE_S = 15.0
BEFORE_S, AFTER_S = 1.0, 1.0
"""Rest around the phrase."""
_DEMO = Path(__file__).parents[2] / "demo"
_DIS = ("rhythm-left", "rhythm-right", "arpeggio", "hook", "answer")
_KINDS = ("minimum", "reflections", "mixed")

Draw = np.random.Generator


@dataclass(frozen=True, kw_only=True)
class LikenessRoom:
    """A chain, an amp and two microphones."""

    seed: int
    di: Floats
    """Rests around it, shape (frames,)."""
    pedals: tuple[dict[str, Any], ...]
    asymmetry: float
    drive_db: float
    cabinets: tuple[Floats, Floats]
    distances_cm: tuple[float, float]
    gains_db: tuple[float, float]
    noise_dbfs: float
    hum_hz: float | None
    hum_dbfs: float
    converter_frames: float
    has_volume: bool
    """Whether its level is turned at the amp; else at the first microphone's preamp."""
    near_field: bool
    """Whether the first microphone's level and bass follow its place."""

    @property
    def chain(self) -> str:
        """Names of the pedals."""
        return ", ".join(str(one["kind"]) for one in self.pedals) or "bare path"


@dataclass(frozen=True, kw_only=True)
class Take:
    """What two returns and the witness recorded, shape (frames,) each, on the DI's frames."""

    returns: tuple[Floats, Floats]
    witness: Floats


def room(seed: int) -> LikenessRoom:
    """Return the room of a seed."""
    draw = np.random.default_rng([seed, 11])
    noise = float(draw.uniform(-90.0, -72.0))
    return LikenessRoom(
        seed=seed,
        di=_di(seed, draw),
        pedals=_pedals(draw),
        asymmetry=float(draw.uniform(0.0, 1.0)),
        drive_db=float(draw.uniform(6.0, 40.0)),
        cabinets=tuple(
            random_cabinet(2 * seed + k, _KINDS[int(draw.integers(3))], rate=RATE) for k in range(2)
        ),
        distances_cm=(float(draw.uniform(3.0, 10.0)), float(draw.uniform(20.0, 200.0))),
        gains_db=(float(draw.uniform(-10.0, -4.0)), float(draw.uniform(-10.0, -4.0))),
        noise_dbfs=noise,
        hum_hz=float(draw.choice((50.0, 60.0))) if draw.random() < 1 / 3 else None,
        hum_dbfs=noise + float(draw.uniform(-6.0, 6.0)),
        converter_frames=float(draw.uniform(150.0, 400.0)),
        has_volume=bool(draw.random() < 0.5),
        near_field=bool(draw.random() < 0.5),
    )


def take(room: LikenessRoom, number: int, change: Change = "nothing", sign: int = 1) -> Take:
    """Return what is recorded the `number`-th time, one thing turned up (`sign` 1) or down (−1) first.

    A microphone that is moved, or whose preamp is turned, is the first; the rest is the amp's.
    """
    draw = np.random.default_rng([room.seed, 12, number])
    amount = sign * AMOUNTS[change]
    if change == "drive":
        room = replace(room, drive_db=room.drive_db + amount)
    if change == "distance":
        near, far = room.distances_cm
        room = replace(room, distances_cm=(near + amount, far))
    if change == "level":
        near, far = room.gains_db
        room = replace(room, gains_db=(near + amount, far + amount * room.has_volume))
    bell = Bell(hz=TONE_HZ, db=amount, q=TONE_Q) if change == "tone" else None
    loud = _amplified(room, bell, runs_s=float(draw.uniform(0.5, 3.0)))
    frames = room.di.size
    # What was placed by a click is not where it was to the fraction of a frame.
    late = room.converter_frames % 1.0 + float(draw.integers(-3, 4))
    near, far = room.cabinets
    if room.near_field:
        near = with_distance(near, distance_cm=room.distances_cm[0], rate=RATE)
    microphones = zip((near, far), room.distances_cm, room.gains_db, strict=True)
    mains_at = int(np.random.default_rng([room.seed, 13, number]).integers(RATE))
    returns = [
        _heard(
            room,
            draw,
            delayed(convolved(loud, cabinet), late + _air_frames(cm)),
            gain_db=gain,
            mains=(by, mains_at),
        )
        for by, (cabinet, cm, gain) in zip((MAINS, GROUND), microphones, strict=True)
    ]
    straight = delayed(room.di, late)[:frames]
    witness = straight + ratio_from_db(-110.0) * draw.standard_normal(frames)
    return Take(returns=(returns[0], returns[1]), witness=_codes(witness))


def delayed(sound: Floats, frames: float) -> Floats:
    """Return a signal later by some frames, negative ones too, of the same length."""
    whole, fraction = split_delay(frames)
    late = np.convolve(sound, fractional_kernel(fraction))[SINC_LATENCY:]
    late = np.concatenate((np.zeros(max(whole, 0)), late))[max(-whole, 0) :]
    return np.pad(late, (0, max(0, sound.size - late.size)))[: sound.size]


def _amplified(room: LikenessRoom, bell: Bell | None, *, runs_s: float) -> Floats:
    """Return what leaves the amp, not late, for a chain that has run for a while before."""
    before = round(runs_s * RATE)
    chain = Chain("chain", room.pedals, rate=RATE)
    amp = Amplifier(Amp(drive_db=room.drive_db, asymmetry=room.asymmetry, bell=bell), rate=RATE)
    late = chain.latency + amp.latency
    sent = np.concatenate((np.zeros(before), room.di, np.zeros(late)))
    return amp.process(chain.process(sent))[before + late :]


def convolved(sound: Floats, response: Floats) -> Floats:
    """Return a signal through a response, of the same length."""
    return signal.oaconvolve(sound, response)[: sound.size]


def _air_frames(cm: float) -> float:
    return cm / 100.0 / speed_of_sound_m_s(ROOM_CELSIUS) * RATE


def _heard(
    room: LikenessRoom, draw: Draw, sound: Floats, *, gain_db: float, mains: tuple[int, int]
) -> Floats:
    """Return what a microphone's input records of a sound.

    Hum comes to each microphone by a way of its own, the same in every take: mixed, it adds up alike.
    """
    by, mains_at = mains
    frames = sound.size
    sound = sound * ratio_from_db(gain_db)
    sound += ratio_from_db(room.noise_dbfs) * draw.standard_normal(frames)
    if room.hum_hz is not None:
        lines = hum(hz=room.hum_hz, level_dbfs=room.hum_dbfs, rate=RATE, seed=room.seed, by=by)
        sound += lines.take(mains_at, frames)
    return _codes(sound)


def _codes(sound: Floats) -> Floats:
    return np.clip(np.rint(sound * 2.0**23) / 2.0**23, -1.0, 1.0 - 2.0**-23)


def _di(seed: int, draw: Draw) -> Floats:
    """Return a phrase: the demo's DIs one behind the other, a phrase of notes or a palm-muted riff."""
    frames, kind = round(PHRASE_S * RATE), draw.random()
    if kind < 0.5:
        parts = [soundfile.read(_DEMO / f"{name}.flac")[0] for name in draw.permutation(_DIS)]
        riff = np.concatenate(parts)[:frames]
    elif kind < 0.8:
        riff = phrase(rate=RATE, seconds=PHRASE_S, seed=seed)
    else:
        riff = palm_muted(seconds=PHRASE_S, seed=seed)
    loud = riff * (ratio_from_db(float(draw.uniform(-12.0, -6.0))) / np.max(np.abs(riff)))
    fade = np.minimum(1.0, np.arange(loud.size) / (0.01 * RATE))
    rest = np.zeros(round(BEFORE_S * RATE)), np.zeros(round(AFTER_S * RATE))
    return np.concatenate((rest[0], loud * fade * fade[::-1], rest[1]))


def _pedals(draw: Draw) -> tuple[dict[str, Any], ...]:
    """Return no pedal in half of the rooms, else one or two."""
    some: tuple[dict[str, Any], ...] = (
        {"kind": "drive", "drive_db": draw.uniform(6.0, 30.0), "tone_hz": draw.uniform(2500, 7000)},
        {"kind": "compressor", "ratio": draw.uniform(2.0, 8.0), "makeup_db": draw.uniform(0, 8)},
        {"kind": "echo", "ms": draw.uniform(120, 500), "feedback": draw.uniform(0.1, 0.5)},
        {"kind": "tremolo", "hz": draw.uniform(2.0, 7.0), "depth": draw.uniform(0.3, 0.8)},
    )
    chosen = (
        (),
        (),
        (),
        (),
        (some[0],),
        (some[1],),
        (some[2],),
        (some[3],),
        (some[0], some[2]),
        (some[1], some[3]),
    )
    return chosen[int(draw.integers(len(chosen)))]
