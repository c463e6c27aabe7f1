"""What reaches the send over many random rolls, and how far a dead amp is sent to.

Evenings of one or two rolls each are drawn (sources, outputs, gains, lengths, loops, quiet and dead ends,
block sizes, float and integer devices) and steered at random (extend, jump, gain, loop, a feed held until
it starves, stops, closing the stream under a roll) on a device turned by hand, the same as in
``tests/engine/test_safety.py``. The sources are slow, with soft ends: a step is the engine's own.

The dead amp: loud DI into the simulated room's standby, at free pace, counted in frames, and by the
clock, counted in frames too, since by the clock those are time.

Goals: no violation; no step steeper than the fades together can be; a dead amp within its second, one
window of 50 ms, and what the writer may be late by: half the capture ring at free pace, 50 ms by the clock.
``--rolls`` sets how many rolls at least (2000), ``--seed`` the first evening's seed (1).
"""

from __future__ import annotations

import queue
import sys
import tempfile
import time
from pathlib import Path
from random import Random

import numpy as np
import report
import soundfile

sys.path.append(str(report.TESTS / "engine"))

import wild

from audio.device.factory import open_device
from audio.engine.conditions import WINDOW_S
from audio.engine.fades import fade_frames
from audio.engine.outlets import Outlets
from audio.engine.stream import Stream
from audio.vocab.messages import Capture, DeadEnd, Ended, Roll, Source
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring

RATE = 48_000
LOUD_FROM_S = 0.123
WRITER_LATE_S = 0.05
"""Its look every 8 ms, a block, and what a busy machine adds."""


def main() -> None:
    """Print the figures."""
    parser = report.options(__doc__)
    parser.add_argument("--rolls", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    said = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-safety-") as folder:
        rolls_at_random(Path(folder), rolls=100 if said.short else said.rolls, seed=said.seed)
        for pace in ("free", "clock"):
            dead_amp(Path(folder), pace=pace, times=1 if said.short else 5)


def rolls_at_random(folder: Path, *, rolls: int, seed: int) -> None:
    """Draw evenings until there were so many rolls, and print what they did."""
    files = wild.write_sources(folder)
    total, evenings, began = wild.Seen(), 0, time.process_time()
    while total.rolls < rolls:
        seen = wild.Evening(Random(seed + evenings), files).run()  # noqa: S311 -- a printed seed
        total.add(seen)
        for wrong in seen.wrong:
            report.figure(f"seed {seed + evenings}", wrong, "nothing", met=False)
        evenings += 1
    report.conditions(
        f"{evenings} evenings, seeds {seed} to {seed + evenings - 1},"
        f" {time.process_time() - began:.0f} s of processor"
    )
    report.figure("rolls that sounded", str(total.rolls))
    report.figure("orders refused", str(total.refused))
    report.figure("steered while they ran", str(total.steered))
    report.figure("stops at random moments", str(total.stops))
    report.figure("streams closed under a roll", str(total.closed))
    report.figure("rolls whose feed starved", str(total.starved))
    wrong = len(total.wrong)
    report.figure("violations", f"{wrong} of {total.rolls}", "0", wrong == 0)
    step, most = total.worst_step, wild.STEEPEST
    report.figure("worst step of level", f"{step:.4f}", f"at most {most:.4f}", step <= most)
    report.figure("the same, of one source cut hard", f"{wild.LEVEL:.4f}")


# ---------------------------------------------------------------- the dead amp


def dead_amp(folder: Path, *, pace: str, times: int) -> None:
    """Send loud DI into standby and print the most frames that left before silence."""
    loud = np.r_[np.zeros(round(LOUD_FROM_S * RATE)), np.full(8 * RATE, 0.5)]
    soundfile.write(folder / "loud.wav", loud, RATE, subtype="PCM_24")
    frames = [sent_into_standby(folder, pace=pace, number=n) for n in range(times)]
    due = RATE + round(WINDOW_S * RATE) + fade_frames(RATE)
    late = RATE * 3 if pace == "free" else round(WRITER_LATE_S * RATE)
    report.conditions(f"dead amp, pace {pace}, {times} times at {RATE} Hz")
    worst = max(frames)
    goal = f"at most {due + late}"
    report.figure("frames sent before silence, worst", str(worst), goal, worst <= due + late)
    report.figure("the same over its second, a window and the fade", str(worst - due))


def sent_into_standby(folder: Path, *, pace: str, number: int) -> int:
    """Return how many frames from the first to the last that sounded."""
    wiring = Wiring(
        name="standby",
        device=SimulatedDevice(
            pace="free" if pace == "free" else "clock",
            inputs=2,
            outputs=2,
            amp=Amp(clean=True),
            microphones=(Microphone(input=2),),
            noise_dbfs=-100.0,
            faults=({"kind": "standby"},),
        ),
        sample_rate=RATE,
        send_output=1,
        returns=(Return("close", 2),),
        reference="close",
    )
    ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
    stream = Stream(
        open_device(wiring),
        outlets=Outlets.of(wiring),
        publish=lambda _: None,
        ended=ended.put,
        broken=sys.exit,
    )
    stream.start()
    path = folder / f"sent-{pace}-{number}.wav"
    try:
        stream.roll(
            Roll(
                roll_id=1,
                sources=(
                    Source(path=str(folder / "loud.wav"), outputs=((0, 1.0),), reaches_send=True),
                ),
                captures=(Capture(path=str(path), outputs=(0,)),),
                length_frames=8 * RATE,
                dead=DeadEnd(
                    output=0, loud_dbfs=-30.0, inputs=(1,), under_dbfs=(-80.0,), for_frames=RATE
                ),
            )
        )
        reason = ended.get(timeout=30).reason
    finally:
        stream.close()
    if reason != "dead":
        raise RuntimeError(f"the roll ended {reason}")
    sounding = np.flatnonzero(soundfile.read(path)[0])
    return int(sounding[-1] + 1 - sounding[0])


if __name__ == "__main__":
    main()
