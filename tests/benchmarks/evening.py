"""A throwaway session of one long part in the simulated room, by the clock, and the keys that play it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from material import RATE, write_long_di
from pseudo_terminal import OnTerminal

from audio.vocab.wiring import Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text

COMMAND = Path(sys.executable).with_name("secondpass")
PART = "long"


def simulated(returns: int) -> Wiring:
    """Return so many plain microphones in the simulated room, by the clock."""
    numbers = range(1, returns + 1)
    room = SimulatedDevice(
        pace="clock",
        inputs=returns,
        outputs=4,
        microphones=tuple(
            Microphone(input=n, distance_cm=5.0 * n, cabinet="none") for n in numbers
        ),
    )
    return Wiring(
        name=f"{returns} microphones",
        device=room,
        sample_rate=RATE,
        send_output=3,
        returns=tuple(Return(name=f"mic {n}", input=n) for n in numbers),
        reference="mic 1",
        tail_s=2.0,
    )


def new_session(folder: Path, wiring: Wiring, *, seconds: float) -> Path:
    """Make a session with one part, `PART`, of so many seconds."""
    di = write_long_di(folder / f"{PART}.wav", seconds=seconds)
    text = folder / "wiring.yaml"
    text.write_text(wiring_text(wiring))
    session = folder / "session"
    command = [COMMAND, "new", session, "--di", di, "--wiring", text, "--bpm", "120"]
    subprocess.run(command, check=True, capture_output=True)
    return session


def ready(one: OnTerminal) -> None:
    """Wait for the open stream, and say that nothing is plugged in: the bare path."""
    one.until_words("▸chain")
    one.press(b"\x1b[B")
    one.until_words("through bare path")


def roll(one: OnTerminal) -> None:
    """Start the pass and wait until the DI rolls."""
    one.forget()
    one.press(b" ")
    one.until_words("ROLLING")
