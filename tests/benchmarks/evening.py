"""A throwaway session of one long part in the simulated room, by the clock, and the keys that play it.

Run as ``python evening.py FOLDER RETURNS SECONDS`` it makes the session, for who must not load what that
takes.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from material import RATE, write_long_di
from pseudo_terminal import OnTerminal

from audio.vocab.wiring import Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text

COMMAND = Path(sys.executable).with_name("secondpass")
MICROPHONES = 4
NOISE_DBFS = -50.0
PART, SESSION = "long", "session"


def simulated(returns: int) -> Wiring:
    """Return so many returns in the simulated room, by the clock.

    Four of them have a plain microphone, the most the room takes; the others hear its noise, which is loud
    enough to move every lane and meter.
    """
    numbers = range(1, returns + 1)
    room = SimulatedDevice(
        pace="clock",
        inputs=returns,
        outputs=4,
        microphones=tuple(
            Microphone(input=n, distance_cm=5.0 * n, cabinet="none") for n in numbers[:MICROPHONES]
        ),
        noise_dbfs=NOISE_DBFS,
    )
    return Wiring(
        name=f"{returns} returns",
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
    session = folder / SESSION
    command = [COMMAND, "new", session, "--di", di, "--wiring", text, "--bpm", "120"]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
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


if __name__ == "__main__":
    where, returns, long_s = sys.argv[1:]
    new_session(Path(where), simulated(int(returns)), seconds=float(long_s))
