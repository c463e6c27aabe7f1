"""DIs of real playing and what comes back of them through the simulated room, its truth beside them.

For `bench_offset`: paths it must place, and pairs of files of which nothing can be said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from material import RATE, Floats, palm_muted
from playing import phrase
from scipy import signal

from audio.device.simulated.amp import LATENCY, Saturation
from audio.device.simulated.cabinet import random_cabinet
from audio.device.simulated.filters import SINC_LATENCY, fractional_kernel
from audio.device.simulated.lines import hum
from audio.device.simulated.pedals.chain import make_pedal
from audio.vocab.units import ratio_from_db

KINDS = ("minimum", "reflections", "mixed")
PEDALS = (
    (),
    ({"kind": "echo", "ms": 380.0},),
    ({"kind": "gate", "threshold_db": -35.0},),
    ({"kind": "drive", "drive_db": 30.0},),
    ({"kind": "tremolo", "depth": 0.8},),
    ({"kind": "compressor"},),
    ({"kind": "chorus"},),
    ({"kind": "reverb", "mix": 0.3},),
)
FARTHEST_S = 118.0


@dataclass(frozen=True, kw_only=True)
class Case:
    """One DI through one path."""

    di: Floats
    recording: Floats
    delay: float
    inverted: bool
    drive_db: float
    kind: str
    pedals: str


# ---------------------------------------------------------------- what can be placed


def two_drives(seed: int) -> list[tuple[str, Case]]:
    """Return one DI through one path at a drive up to 20 dB and at one up to 60 dB."""
    draw = np.random.default_rng([seed, 4])
    di = played(seed)
    kind = KINDS[seed % len(KINDS)]
    path = {
        "kind": kind,
        "response": random_cabinet(seed, kind, rate=RATE),
        "pedals": PEDALS[int(draw.integers(len(PEDALS)))] if seed % 2 else (),
        "asymmetry": float(draw.uniform(0.0, 0.5)),
    }
    return [
        (name, heard(di, draw, drive_db=float(draw.uniform(*drives)), **path))
        for name, drives in (("to 20 dB", (0.0, 20.0)), ("to 60 dB", (20.0, 60.0)))
    ]


def played(seed: int, *, seconds: float = 12.0) -> Floats:
    """Return a DI: a phrase, a palm-muted riff, or a phrase higher or lower by up to four semitones."""
    if seed % 3 == 1:
        riff = palm_muted(seconds=0.6 * seconds, seed=seed)
        return riff * (ratio_from_db(-9.0) / np.max(np.abs(riff)))
    di = phrase(rate=RATE, seconds=seconds, seed=seed)
    if seed % 3 == 2:
        semitones = np.random.default_rng(seed).uniform(-4.0, 4.0)
        di = signal.resample(di, round(di.size * 2.0 ** (semitones / 12.0)))
    return di


def heard(
    di: Floats,
    draw: np.random.Generator,
    *,
    drive_db: float,
    kind: str,
    response: Floats,
    pedals: tuple,
    asymmetry: float,
) -> Case:
    """Send a DI through pedals, amp and loudspeaker, and begin the recording early or late."""
    out = through(di, drive_db=drive_db, response=response, pedals=pedals, asymmetry=asymmetry)
    inverted = bool(draw.random() < 0.5)
    fraction = float(draw.uniform(0.0, 1.0))
    out = np.convolve(out, fractional_kernel(fraction))[SINC_LATENCY:]
    before = round(
        draw.uniform(-0.3 * di.size / RATE, FARTHEST_S if draw.random() < 0.2 else 10.0) * RATE
    )
    out = np.concatenate((np.zeros(max(before, 0)), out))[max(-before, 0) :]
    level = float(np.sqrt(np.mean(through_level(out) ** 2)))
    out = out + noises(out.size, level, draw)
    return Case(
        di=di.astype(np.float32),
        recording=(-out if inverted else out).astype(np.float32),
        delay=before + fraction,
        inverted=inverted,
        drive_db=drive_db,
        kind=kind,
        pedals="".join(str(one["kind"]) for one in pedals),
    )


def through(
    di: Floats, *, drive_db: float, response: Floats, pedals: tuple, asymmetry: float
) -> Floats:
    """Return what comes out of pedals, amp and loudspeaker, not late."""
    sound = np.concatenate((di, np.zeros(RATE // 2)))
    for words in pedals:
        pedal = make_pedal(words, rate=RATE, where="bench")
        late = pedal.latency
        sound = pedal.process(np.concatenate((sound, np.zeros(late))))[late:]
    amp = Saturation(rate=RATE, drive_db=drive_db, asymmetry=asymmetry, latency=LATENCY)
    sound = amp.process(np.concatenate((sound, np.zeros(LATENCY))))[LATENCY:]
    return signal.fftconvolve(sound, response)


def through_level(sound: Floats) -> Floats:
    """Return the stretch of a recording that is not silent."""
    loud = np.flatnonzero(np.abs(sound) > 1e-3 * np.max(np.abs(sound)))
    return sound[loud[0] : loud[-1] + 1]


def noises(frames: int, level: float, draw: np.random.Generator) -> Floats:
    """Return noise 20 to 50 dB under a level, and in every third case hum beside it."""
    noise = draw.standard_normal(frames) * level * ratio_from_db(-draw.uniform(20.0, 50.0))
    if draw.random() < 1.0 / 3.0:
        dbfs = 20.0 * np.log10(level) - draw.uniform(10.0, 30.0)
        noise += hum(hz=50.0, level_dbfs=dbfs, rate=RATE, seed=1).take(0, frames)
    return noise


# ---------------------------------------------------------------- what must be refused


def another_take(seed: int) -> tuple[Floats, Floats]:
    """Return a DI, and an amp playing other music of the same guitar."""
    other = played(seed + 300)
    response = random_cabinet(seed, "minimum", rate=RATE)
    return played(seed), through(other, drive_db=15.0, response=response, pedals=(), asymmetry=0.2)


def wet(seed: int, pedal: dict) -> tuple[Floats, Floats]:
    """Return a DI and what a pedal that leaves nothing dry makes of it."""
    di, response = played(seed), random_cabinet(seed, "minimum", rate=RATE)
    return di, through(di, drive_db=15.0, response=response, pedals=(pedal,), asymmetry=0.2)


def no_attacks(seed: int) -> tuple[Floats, Floats]:
    """Return a chord that swells and dies, and the amp playing it."""
    at = np.arange(8 * RATE) / RATE
    pitch = 82.4 * 2.0 ** (seed % 12 / 12.0)
    di = (
        0.1 * np.hanning(at.size) * sum(np.sin(2.0 * np.pi * pitch * k * at) / k for k in (1, 2, 3))
    )
    response = random_cabinet(seed, "minimum", rate=RATE)
    return di, through(di, drive_db=15.0, response=response, pedals=(), asymmetry=0.2)


def noise_alone(seed: int) -> tuple[Floats, Floats]:
    """Return a DI, and noise."""
    di = played(seed)
    return di, 0.01 * np.random.default_rng(seed).standard_normal(di.size)
