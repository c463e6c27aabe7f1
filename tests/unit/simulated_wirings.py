"""Wirings of the simulated room for its tests, and ways to look at what comes back without our own code."""

from __future__ import annotations

from typing import Any

import numpy as np
import soundfile
from needs import GUITARS
from numpy.typing import NDArray

from audio.device.simulated.room import Room
from audio.vocab.wiring import Amp, Loop, Microphone, Return, SimulatedDevice, Wiring

Signal = NDArray[np.float64]

SEND = 3
SILENT: dict[str, Any] = {"noise_dbfs": -200.0, "amp": Amp(clean=True)}
"""No noise at all and a plain amp: what comes back is what was sent."""


def plain(number: int = 2, **rest: Any) -> Microphone:
    """A microphone that adds nothing: no cabinet, no gain, no air, unless given."""
    return Microphone(
        **{"input": number, "distance_cm": 0.0, "cabinet": "none", "gain_db": 0.0, **rest}
    )


def wiring(
    *,
    rate: int,
    block: int | None = None,
    witness: int | None = None,
    loop: Loop | None = None,
    **device: Any,
) -> Wiring:
    device.setdefault("microphones", (plain(),))
    microphones = device["microphones"]
    return Wiring(
        name="a room",
        device=SimulatedDevice(**device),
        sample_rate=rate,
        send_output=SEND,
        returns=tuple(Return(name=f"mic {m.input}", input=m.input) for m in microphones),
        reference=f"mic {microphones[0].input}",
        block_frames=block,
        witness_input=witness,
        loop=loop,
    )


def room(*, rate: int, **rest: Any) -> Room:
    return Room(wiring(rate=rate, **rest))


def played(one: Room, signal: Signal, *, block: int = 512, output: int = SEND) -> Signal:
    """Everything the inputs held while `signal` was sent, shape (frames, inputs)."""
    sent = np.zeros((signal.size, 8))
    sent[:, output - 1] = signal
    return np.concatenate([one.process(sent[at : at + block]) for at in range(0, len(sent), block)])


def pulse(frames: int, *, at: int = 0, height: float = 0.5) -> Signal:
    signal = np.zeros(frames)
    signal[at] = height
    return signal


def sine(hz: float, *, rate: int, seconds: float, peak: float) -> Signal:
    return peak * np.sin(2.0 * np.pi * hz * np.arange(round(seconds * rate)) / rate)


def delay_of(
    response: Signal, *, rate: int, low_hz: float = 200.0, high_hz: float = 18_000.0
) -> float:
    """Delay of an impulse response by the slope of its phase, frames: a least-squares line through 0."""
    whole = int(np.argmax(np.abs(response)))
    size = 4 * response.size
    spectrum = np.fft.rfft(response, size)
    turn = 2.0 * np.pi * np.arange(spectrum.size) / size
    hz = turn * rate / (2.0 * np.pi)
    band = (hz >= low_hz) & (hz <= high_hz)
    left = np.angle(spectrum[band] * np.exp(1j * turn[band] * whole))
    return whole - float(turn[band] @ left / (turn[band] @ turn[band]))


def line_db(signal: Signal, hz: float, *, rate: int) -> float:
    """Level of one frequency by correlation with it over a Hann window, dB of a sine's peak."""
    window = np.hanning(signal.size)
    turn = np.exp(-2j * np.pi * hz * np.arange(signal.size) / rate)
    return float(20.0 * np.log10(2.0 * abs(np.sum(signal * window * turn)) / window.sum() + 1e-15))


def rms_db(signal: Signal) -> float:
    return float(10.0 * np.log10(np.mean(signal**2) + 1e-30))


def guitar(*, rms_dbfs: float = -18.0, seconds: float = 6.0) -> tuple[Signal, int]:
    """Real playing: `needs.GUITARS` in a row, at that RMS where they sound; and their rate."""
    pieces, rate = [], 0
    for path in GUITARS:
        data, rate = soundfile.read(path, dtype="float64", always_2d=True)
        pieces.append(data[: round(2.0 * rate)].mean(axis=1))
    phrase = np.concatenate(pieces)[: round(seconds * rate)]
    loud = np.abs(phrase) > 0.01 * np.max(np.abs(phrase))
    return phrase * (10.0 ** (rms_dbfs / 20.0) / np.sqrt(np.mean(phrase[loud] ** 2))), rate
