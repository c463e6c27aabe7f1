"""How fast the simulated room runs: four microphones, one drive pedal, blocks of 512.

Goal: twenty times real time on one core at 48 kHz, so that the room beside a screen and a worker
leaves them the machine. The best of many blocks is the figure, as other programs run beside it.
"""

from __future__ import annotations

import time

import numpy as np

from audio.device.simulated.room import Room
from audio.vocab.wiring import Microphone, Return, SimulatedDevice, Wiring

GOAL = 20.0
BLOCKS = 1500
CABINETS = ("closed back", "open back", "floor bounce", "two speakers")


def main() -> None:
    """Print figure, goal, met or not, for 48 and 192 kHz and two pedals."""
    for rate in (48_000, 192_000):
        for pedal in ("drive", "echo"):
            best, median = measured(rate, pedal)
            goal = (
                f"goal {GOAL:.0f}: {'met' if best >= GOAL else 'NOT met'}"
                if rate == 48_000
                else "no goal"
            )
            print(  # noqa: T201 - a benchmark prints
                f"simulated room, {rate} Hz, {pedal}: {best:.1f} times real time at best,"
                f" {median:.1f} in the median; {goal}"
            )


def measured(rate: int, pedal: str) -> tuple[float, float]:
    """Return how many times faster than real time the best and the median block were."""
    room = Room(wiring(rate, pedal))
    room.plug("one pedal")
    block = np.random.default_rng(1).normal(0.0, 0.1, (512, 8))
    seconds = []
    for _ in range(BLOCKS):
        began = time.perf_counter()
        room.process(block)
        seconds.append(time.perf_counter() - began)
    real = 512 / rate
    return real / float(np.percentile(seconds, 1)), real / float(np.median(seconds))


def wiring(rate: int, pedal: str) -> Wiring:
    """Return four microphones on a driven amp behind one pedal."""
    microphones = tuple(
        Microphone(input=number, distance_cm=7.0 * number, cabinet=cabinet)
        for number, cabinet in enumerate(CABINETS, start=2)
    )
    device = SimulatedDevice(microphones=microphones, chains={"one pedal": ({"kind": pedal},)})
    return Wiring(
        name="four microphones",
        device=device,
        sample_rate=rate,
        send_output=3,
        returns=(Return(name="close", input=2),),
        reference="close",
    )


if __name__ == "__main__":
    main()
