"""Sessions on disk, of real playing, and the simulated rooms they are played through."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from playing import write_phrase

from audio.files.inspect import inspect
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.wiring import Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text

RATE = 44_100

MICROPHONES = (
    Microphone(input=2, cabinet="none"),
    Microphone(input=3, cabinet="none", distance_cm=150),
)
RETURNS = (Return("close", 2), Return("room", 3))


def room(**fields: Any) -> SimulatedDevice:
    """Return a simulated room; as fast as the machine can, unless told otherwise."""
    usual: dict[str, Any] = {
        "pace": "free",
        "inputs": 4,
        "outputs": 4,
        "microphones": MICROPHONES,
        "noise_dbfs": -90.0,
    }
    return SimulatedDevice(**(usual | fields))


def wired(device: SimulatedDevice | None = None, **fields: Any) -> Wiring:
    """Return a wiring of the simulated room."""
    usual: dict[str, Any] = {
        "name": "tracking room",
        "device": device or room(),
        "sample_rate": RATE,
        "send_output": 3,
        "returns": RETURNS,
        "reference": "close",
        "tail_s": 2.0,
        "block_frames": 2048,
    }
    return Wiring(**(usual | fields))


def make_session(
    folder: Path,
    *,
    wiring: Wiring | None,
    parts: tuple[str, ...] = ("riff",),
    seconds: float = 1.2,
    rate: int = RATE,
    name: str = "harbour lights",
    song: str = "low water",
) -> Session:
    """Make a session at 96 bpm whose parts are real playing, with or without a wiring."""
    text = None if wiring is None else wiring_text(wiring)
    where = folder / "evening"
    session = create(where, name=name, song=song, bpm=96.0, metre="4/4", wiring_text=text)
    for seed, part in enumerate(parts, start=3):
        di = write_phrase(folder / f"{seed}.wav", rate=rate, seconds=seconds, seed=seed)
        session = session.add_part(source=di, facts=inspect(di), name=part)
    return session
