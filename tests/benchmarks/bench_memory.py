"""What engine and worker grow by over a ten-minute pass with four returns.

Resident memory of both processes, looked at twenty times a second from ten seconds of sound after the
roll's start (rings filled, libraries loaded) to the end of the pass, closing click included: the largest
value less the first. In the simulated room as fast as it runs; with ``--jack`` over a private JACK server
in real time, which takes as long as the pass. ``--minutes`` sets the length (10).

Goal: the engine grows by less than 5 MB. The worker keeps some twenty numbers for each second and
return; its figure is for comparison.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

import msgspec
import report
from jackroom import rig, spec
from material import RATE
from processes import MB, descendants, has_realtime_thread, peak_rss_bytes, rss_bytes, runs
from session import PART, long_session, simulated_wiring

from audio.jobs.deck import Deck
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.talk import Silent
from audio.vocab.status import Status
from audio.vocab.wiring import PortAudioDevice, Return, Wiring

GOAL_MB = 5.0
FROM_S = 10.0


class Watching(Silent):
    """Looks at the memory of a deck's processes while its longest roll plays."""

    def __init__(self) -> None:
        self.engine_pid = 0
        self.engine: list[int] = []
        self.worker: list[int] = []

    def rolling(self, status: Status) -> None:
        """Look once the roll has played for ten seconds, and at everything that follows."""
        if self.engine or status.roll_frame > FROM_S * RATE:
            self.look()

    def look(self) -> None:
        """Note what both processes hold now."""
        workers = [pid for pid in descendants(os.getpid()) if runs(pid, "audio.work.process")]
        self.engine.append(rss_bytes(self.engine_pid))
        self.worker.append(max(rss_bytes(pid) for pid in workers))


def main() -> None:
    """Run the pass and print what grew."""
    parser = report.options(__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--jack", action="store_true", help="over JACK, in real time")
    said = parser.parse_args()
    minutes = 0.5 if said.short else said.minutes
    if said.jack:
        with jack_wiring() as wiring:
            measure(wiring, minutes, "over JACK in real time")
    else:
        measure(simulated_wiring(paced=False), minutes, "simulated room at free pace")


def measure(wiring: Wiring, minutes: float, where: str) -> None:
    """Run one pass of so many minutes and print the growth."""
    watching = Watching()
    with long_session(seconds=60.0 * minutes) as session, Deck(wiring, watching) as deck:
        watching.engine_pid = deck.engine_pid
        realtime = has_realtime_thread(deck.engine_pid)
        done = run_pass(deck, session, part_name=PART, chain="bare path", known=Known())
        watching.look()
        peak = peak_rss_bytes(deck.engine_pid)
    scheduled = "real-time callback" if realtime else "no real-time thread"
    report.conditions(f"{where}, {minutes:g} minutes, {len(wiring.returns)} returns, {scheduled}")
    engine, worker = watching.engine, watching.worker
    grown = (max(engine) - engine[0]) / MB
    goal = f"under {GOAL_MB:.0f} MB"
    report.figure("engine: growth", f"{grown:.2f} MB", goal, grown < GOAL_MB)
    report.figure(
        "engine: after 10 s, at the end", f"{engine[0] / MB:.1f}, {engine[-1] / MB:.1f} MB"
    )
    report.figure("engine: peak, opening included", f"{peak / MB:.1f} MB")
    report.figure("worker: growth", f"{(max(worker) - worker[0]) / MB:.2f} MB")
    report.figure(
        "worker: after 10 s, at the end", f"{worker[0] / MB:.1f}, {worker[-1] / MB:.1f} MB"
    )
    report.figure(
        "verdict, places where frames were lost",
        f"{done.variant.verdict}, {len(done.variant.dropouts)}",
    )


@contextmanager
def jack_wiring() -> Iterator[Wiring]:
    """Yield a wiring with four microphones on a private server; its environment is ours from then on."""
    paths = tuple(
        spec.Path(
            output=3, input=n, delay_frames=131.37 + 40 * n, gain=0.5, cabinet=True, noise_rms=1e-4
        )
        for n in range(1, 5)
    )
    with rig.jack_room(rate=RATE, period=512, paths=paths) as room:
        os.environ.update(room.env)
        yield msgspec.structs.replace(
            simulated_wiring(paced=True),
            device=PortAudioDevice(host="JACK Audio Connection Kit", name=room.spec.name),
            returns=tuple(Return(name=f"mic {n}", input=n) for n in range(1, 5)),
            reference="mic 1",
        )


if __name__ == "__main__":
    main()
