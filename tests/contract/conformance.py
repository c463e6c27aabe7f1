"""The devices the conformance suite runs on, wired so that every one of them has the same truth.

Output 3 comes back on input 2, output 1 on input 4, inputs 1 and 3 hear nothing.
"""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path as FilePath

import msgspec
import numpy as np
from device_probe import Ask, Told
from jackroom.rig import JackRoom
from jackroom.server import TESTS
from jackroom.spec import Path
from numpy.typing import NDArray

from audio.vocab.wiring import (
    Amp,
    Loop,
    Microphone,
    PortAudioDevice,
    Return,
    SimulatedDevice,
    Wiring,
)

JACK_HOST = "JACK Audio Connection Kit"
PROBE = FilePath(__file__).with_name("device_probe.py")

JACK_PATHS = (
    Path(output=3, input=2, delay_frames=100),
    Path(output=1, input=4, delay_frames=37),
    Path(output=4, input=3),  # an output no wiring here uses: it must stay silent
)

RERUNS = 2
"""How often a run is repeated whose blocks the server dropped; each is printed."""


GUARD_BLOCKS = 4
"""Blocks before and after a flag that prove nothing."""


@dataclass(frozen=True)
class Heard:
    """One run of the probe."""

    told: Told
    sent: NDArray[np.float64]
    """Shape (frames, outputs), full scale 1."""
    heard: NDArray[np.float64]
    """Shape (frames, inputs), full scale 1."""


def jack_wiring(rate: int, name: str = "reamp-room") -> Wiring:
    """Return the conformance wiring on the JACK room."""
    return _wiring(PortAudioDevice(host=JACK_HOST, name=name), rate)


def simulated_wiring(rate: int, pace: str) -> Wiring:
    """Return the conformance wiring in a simulated room that colours nothing."""
    device = SimulatedDevice(
        pace=pace,  # type: ignore[arg-type]
        amp=Amp(clean=True),
        microphones=(Microphone(input=2, cabinet="none", gain_db=0.0),),
        noise_dbfs=-110.0,
    )
    return _wiring(device, rate)


def _wiring(device: PortAudioDevice | SimulatedDevice, rate: int) -> Wiring:
    return Wiring(
        name="conformance",
        device=device,
        sample_rate=rate,
        send_output=3,
        returns=(Return("close", 2),),
        reference="close",
        loop=Loop(output=1, input=4),
    )


def environment(room: JackRoom | None) -> dict[str, str]:
    """Return what the probe's process needs to find the project and, if there is one, the server."""
    if room is not None:
        return room.env
    return os.environ | {"PYTHONPATH": os.pathsep.join([str(TESTS), str(TESTS.parent)])}


def run(ask: Ask, *, env: dict[str, str]) -> Heard:
    """Run the probe once in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        arrays = FilePath(folder) / "arrays.npz"
        text = msgspec.json.encode(ask).decode()
        done = subprocess.run(
            [sys.executable, PROBE, text, arrays],
            env=env,
            check=False,
            capture_output=True,
            text=True,
            timeout=60,
        )
        assert done.returncode == 0, done.stderr
        told = msgspec.json.decode(done.stdout, type=Told)
        nothing = np.zeros((0, 0))
        if not arrays.exists():
            return Heard(told, nothing, nothing)
        with np.load(arrays) as kept:
            full = 2.0**31 if told.sample_format == "int32" else 1.0
            return Heard(told, kept["sent"] / full, kept["heard"] / full)


def run_clean(ask: Ask, *, env: dict[str, str], frames: int) -> Heard:
    """Run the probe and keep the longest stretch in which the device said it lost nothing.

    A shared machine drops blocks, and no device can promise otherwise: a run whose stretch is shorter
    than `frames` is repeated at most `RERUNS` times, each printed.
    """
    for attempt in range(RERUNS + 1):
        heard = run(ask, env=env)
        start, end = unflagged(heard.told)
        if end - start >= frames:
            return Heard(heard.told, heard.sent[start:end], heard.heard[start:end])
        sys.stdout.write(f"run {attempt + 1}: {sum(map(bool, heard.told.flags))} blocks flagged\n")
    message = f"in {RERUNS + 1} runs this machine never kept {frames} frames in a row"
    raise RuntimeError(message)


def unflagged(told: Told) -> tuple[int, int]:
    """Return first frame and end of the longest stretch without flags, away from what surrounds it.

    A flag may come two calls late, and what was lost before it sounds for a round trip after it.
    """
    marks = [
        -1 - GUARD_BLOCKS,
        *(i for i, f in enumerate(told.flags) if f),
        len(told.flags) + GUARD_BLOCKS,
    ]
    start, end = max(itertools.pairwise(marks), key=lambda pair: pair[1] - pair[0])
    block = told.block_frames
    return (start + 1 + GUARD_BLOCKS) * block, max(end - GUARD_BLOCKS, 0) * block


def lag(sent: NDArray[np.float64], heard: NDArray[np.float64]) -> tuple[int, float]:
    """Return the lag of the largest circular correlation and its height over the product of norms."""
    spectrum = np.fft.rfft(heard) * np.conj(np.fft.rfft(sent))
    correlation = np.fft.irfft(spectrum, len(sent))
    at = int(np.argmax(np.abs(correlation)))
    norms = float(np.linalg.norm(sent) * np.linalg.norm(heard))
    return at, float(correlation[at]) / norms if norms else 0.0
