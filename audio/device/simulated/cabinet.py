"""Loudspeaker cabinets: a family of impulse responses, each with its first arrival at tap 0.

A member is a magnitude over frequency in hertz, turned into the minimum-phase response that belongs to
it; reflections and allpasses come on top. So the same member sounds the same at every rate.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from audio.device.simulated.filters import Signal
from audio.device.simulated.words import listed
from audio.vocab.errors import UseError

Kind = Literal["minimum", "reflections", "mixed"]
"""Minimum phase; with reflections on top; with allpasses on top."""

LENGTH_S = 0.041
"""Length of an impulse response, its last tenth fades out; with a block of 512 at 48 kHz it fills a
transform of 2560 frames, which is a fast one."""


@dataclass(frozen=True)
class Bump:
    """A peak or a dip of the magnitude, bell-shaped over octaves."""

    hz: float
    db: float
    octaves: float


@dataclass(frozen=True)
class Reflection:
    """A later arrival."""

    after_ms: float
    gain: float


@dataclass(frozen=True)
class Allpass:
    """Phase that turns by 360 degrees about a frequency and leaves the magnitude alone."""

    hz: float
    q: float


@dataclass(frozen=True)
class Cabinet:
    """A loudspeaker in its box, as one microphone hears it.

    The values of the named members are invented after the usual shape of a guitar loudspeaker: little
    under 80 Hz, a resonance near 100 Hz, presence at 2 to 4 kHz, a steep fall beyond 5 kHz (common
    practice, no source).
    """

    low_hz: float = 80.0
    """Corner of the fall towards the bass, 12 dB an octave."""
    high_hz: float = 5000.0
    """Corner of the fall towards the treble."""
    slope: int = 5
    """Of that fall, 6 dB an octave each."""
    floor_db: float = -54.0
    """Where both falls end."""
    bumps: tuple[Bump, ...] = (Bump(105.0, 5.0, 0.5), Bump(2800.0, 6.0, 0.7))
    reflections: tuple[Reflection, ...] = ()
    allpasses: tuple[Allpass, ...] = ()


_FLOOR = (Reflection(2.31, 0.45), Reflection(5.87, -0.2))
_BOX = (Reflection(0.83, -0.35), Reflection(1.66, 0.16), Reflection(2.49, -0.08))

CABINETS = {
    "closed back": Cabinet(),
    "open back": Cabinet(
        low_hz=95.0,
        high_hz=5000.0,
        bumps=(Bump(130.0, 3.0, 0.4), Bump(420.0, -4.0, 0.6), Bump(3200.0, 5.0, 0.6)),
    ),
    "small": Cabinet(
        low_hz=140.0,
        high_hz=5600.0,
        bumps=(Bump(180.0, 6.0, 0.4), Bump(1100.0, 3.0, 0.5), Bump(3700.0, 4.0, 0.5)),
    ),
    "floor bounce": Cabinet(reflections=_FLOOR),
    "deep box": Cabinet(low_hz=70.0, high_hz=4600.0, reflections=_BOX),
    "off axis": Cabinet(
        high_hz=3800.0,
        bumps=(Bump(100.0, 4.0, 0.5), Bump(2200.0, 3.0, 0.8), Bump(3300.0, -5.0, 0.3)),
        allpasses=(Allpass(1400.0, 0.8),),
    ),
    "two speakers": Cabinet(
        reflections=(Reflection(0.41, 0.6),),
        allpasses=(Allpass(700.0, 0.7), Allpass(2600.0, 1.2)),
    ),
}
"""The named members; ``none`` stands for no cabinet at all and is not among them."""


def cabinet_response(name: str, *, rate: int, where: str) -> Signal:
    """Return the impulse response of a named member.

    Parameters
    ----------
    name
        ``none`` or a key of `CABINETS`.
    rate
        Frames a second.
    where
        Place in the wiring file, opens the message.

    Returns
    -------
    Signal
        Shape (taps,); ``[1.0]`` for ``none``.

    Raises
    ------
    UseError
        When there is no such member; the sentence lists them.
    """
    if name == "none":
        return np.ones(1)
    if name not in CABINETS:
        raise UseError(
            f"{where}: no cabinet {name!r} is known; write one of 'none', {listed(CABINETS)}."
        )
    return response(CABINETS[name], rate=rate)


def random_cabinet(seed: int, kind: Kind, *, rate: int) -> Signal:
    """Return the impulse response of a member nobody has heard before.

    Parameters
    ----------
    seed
        The same seed and kind give the same member at every rate.
    kind
        ``minimum``, ``reflections`` or ``mixed``.
    rate
        Frames a second.

    Returns
    -------
    Signal
        Shape (taps,); the first arrival is tap 0.

    Raises
    ------
    UseError
        When there is no such kind.
    """
    if kind not in get_args(Kind):
        raise UseError(
            f"no kind of cabinet {kind!r} is known; write 'minimum', 'reflections' or 'mixed'."
        )
    return response(
        _drawn(np.random.default_rng([seed, zlib.crc32(kind.encode())]), kind), rate=rate
    )


def response(cabinet: Cabinet, *, rate: int) -> Signal:
    """Return the impulse response of `cabinet` at `rate` frames a second, shape (taps,)."""
    taps = round(LENGTH_S * rate)
    size = fft.next_fast_len(8 * taps, real=True)
    size += size % 2
    hz = np.arange(size // 2 + 1) * (rate / size)
    spectrum = _minimum_phase(_magnitude(cabinet, hz), size)
    spectrum *= _later(cabinet, hz) * _turned(cabinet, hz, rate)
    taken: Signal = fft.irfft(spectrum, size)[:taps]
    fade = max(2, taps // 10)
    taken[-fade:] *= 0.5 + 0.5 * np.cos(np.linspace(0.0, np.pi, fade))
    return taken / _loudness(spectrum, hz)


def _magnitude(cabinet: Cabinet, hz: Signal) -> Signal:
    """Return the gain at each frequency, linear."""
    safe = np.maximum(hz, 1e-3)
    low_db = -10.0 * np.log10(1.0 + (cabinet.low_hz / safe) ** 4)
    high_db = -10.0 * np.log10(1.0 + (safe / cabinet.high_hz) ** (2 * cabinet.slope))
    bumps = [b.db * np.exp(-((np.log2(safe / b.hz) / b.octaves) ** 2)) for b in cabinet.bumps]
    power = 10.0 ** ((low_db + high_db + sum(bumps, start=np.zeros(1))) / 10.0)
    return np.asarray(np.sqrt(power + 10.0 ** (cabinet.floor_db / 10.0)), dtype=np.float64)


def _minimum_phase(magnitude: Signal, size: int) -> NDArray[np.complex128]:
    """Return the minimum-phase spectrum of a magnitude, by its folded cepstrum.

    Oppenheim and Schafer, Discrete-Time Signal Processing, chapter on the cepstrum: the causal part of
    the cepstrum of the log magnitude, doubled, is that of the minimum-phase sequence (from memory).
    """
    cepstrum = fft.irfft(np.log(magnitude), size)
    cepstrum[1 : size // 2] *= 2.0
    cepstrum[size // 2 + 1 :] = 0.0
    return np.exp(fft.rfft(cepstrum))  # type: ignore[no-any-return]


def _later(cabinet: Cabinet, hz: Signal) -> NDArray[np.complex128]:
    """Return the factor of the direct sound and its reflections, each a little duller."""
    total = np.ones(hz.size, dtype=np.complex128)
    for one in cabinet.reflections:
        turn = 2j * np.pi * hz * (one.after_ms / 1000.0)
        total += one.gain * np.exp(-turn) / (1.0 + (hz / 6000.0) ** 4)
    return total


def _turned(cabinet: Cabinet, hz: Signal, rate: int) -> NDArray[np.complex128]:
    """Return the factor of the allpasses, as second-order sections that are causal at this rate."""
    step = np.exp(-2j * np.pi * hz / rate)
    total = np.ones(hz.size, dtype=np.complex128)
    for one in cabinet.allpasses:
        turn = 2.0 * np.pi * one.hz / rate
        slack = np.sin(turn) / (2.0 * one.q)
        first, second = -2.0 * np.cos(turn) / (1.0 + slack), (1.0 - slack) / (1.0 + slack)
        total *= (second + first * step + step**2) / (1.0 + first * step + second * step**2)
    return total


def _loudness(spectrum: NDArray[np.complex128], hz: Signal) -> float:
    """Return the RMS gain over 100 Hz to 5 kHz, each octave alike, as playing fills it."""
    band = (hz >= 100.0) & (hz <= 5000.0)
    power = np.abs(spectrum[band]) ** 2
    return float(np.sqrt(np.sum(power / hz[band]) / np.sum(1.0 / hz[band])))


def _drawn(draw: np.random.Generator, kind: Kind) -> Cabinet:
    """Return a member with every value drawn over what guitar loudspeakers show."""
    modes = tuple(
        Bump(draw.uniform(300.0, 4500.0), draw.uniform(-5.0, 5.0), draw.uniform(0.12, 0.5))
        for _ in range(int(draw.integers(2, 6)))
    )
    resonance = Bump(draw.uniform(85.0, 190.0), draw.uniform(2.0, 7.0), draw.uniform(0.3, 0.6))
    presence = Bump(draw.uniform(2000.0, 4000.0), draw.uniform(2.0, 8.0), draw.uniform(0.4, 0.8))
    reflections = tuple(
        Reflection(draw.uniform(0.3, 7.0), float(draw.choice([-1.0, 1.0])) * draw.uniform(0.1, 0.6))
        for _ in range(int(draw.integers(1, 4)))
    )
    allpasses = tuple(
        Allpass(draw.uniform(500.0, 3000.0), draw.uniform(0.5, 1.3))
        for _ in range(int(draw.integers(1, 3)))
    )
    return Cabinet(
        low_hz=draw.uniform(60.0, 140.0),
        high_hz=draw.uniform(3800.0, 6500.0),
        slope=int(draw.integers(4, 8)),
        bumps=(resonance, presence, *modes),
        reflections=reflections if kind == "reflections" else (),
        allpasses=allpasses if kind == "mixed" else (),
    )
