"""Placing by the music against a plain and a better peer, on the same files in one run.

Real playing (phrases, palm-muted riffs, phrases played faster by resampling) goes through saturation,
loudspeaker and pedals of the simulated room into noise and hum, early or late, either way up; the truth is
the room's own: the pure delay before the first tap. The peers are `scipy.signal.correlate` with
`correlation_lags`, the plain one, and pyroomacoustics' ``tdoa``, a generalized correlation with phase
transform (Knapp and Carter 1976), the better one; it says nothing of polarity. Both answer always, with
the place of the largest peak. It needs the extra ``bench`` besides ``dev``.

Nothing was tuned on what is used here: cabinets with seeds from 12,000 on, riffs likewise.
Toy loudspeakers of another construction served for finding constants.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
import report
from material import RATE, Floats
from offset_cases import (
    Case,
    another_take,
    no_attacks,
    noise_alone,
    through,
    two_drives,
    wet,
)
from playing import phrase
from pyroomacoustics.experimental import tdoa
from scipy import signal
from scipy.ndimage import map_coordinates

from audio.device.simulated.cabinet import random_cabinet
from audio.measure.music import RunningMusic, align
from audio.vocab.alignment import Alignment
from audio.vocab.units import ratio_from_db

FIRST_SEED = 12_000


@dataclass
class Tally:
    """How one of the methods did."""

    errors: list[float] = field(default_factory=list)
    wrong_way_up: int = 0
    refused: int = 0
    seconds: float = 0.0

    def add(self, delay: float | None, inverted: bool | None, case: Case) -> None:
        if delay is None:
            self.refused += 1
            return
        self.errors.append(delay - case.delay)
        self.wrong_way_up += inverted is not None and inverted != case.inverted

    def within(self, frames: float) -> int:
        return sum(abs(one) <= frames for one in self.errors)


def main() -> None:
    """Run all parts and print them."""
    said = report.options(__doc__).parse_args()
    report.conditions(f"{RATE} Hz, seeds from {FIRST_SEED} on")
    places(pairs=3 if said.short else 32)
    refusals(each=1 if said.short else 4)
    if not said.short:
        five_minutes()


# ---------------------------------------------------------------- places


def places(*, pairs: int) -> None:
    """Place each DI through one path at two drives."""
    tallies: dict[tuple[str, str], Tally] = {}
    apart: list[float] = []
    for number in range(pairs):
        found = []
        for driven, case in two_drives(FIRST_SEED + number):
            ours = timed(tallies, ("music", driven), case, by_music)
            timed(tallies, ("correlate", driven), case, by_correlation)
            timed(tallies, ("phase transform", driven), case, by_phase_transform)
            found.append(ours)
        if None not in found:
            apart.append(abs(found[0] - found[1]))
    for driven, frames in (("to 20 dB", 1.0), ("to 60 dB", 4.0)):
        told(tallies[("music", driven)], "music", driven, frames)
        for peer in ("correlate", "phase transform"):
            compared(tallies[(peer, driven)], peer, driven)
    near = sum(one <= 1.0 for one in apart)
    report.figure(
        "two drives, one path: within 1 frame of each other",
        f"{near} of {len(apart)}",
        "all",
        near == len(apart),
    )
    report.figure("    median, worst", f"{np.median(apart):.2f}, {max(apart):.2f} frames")


def told(tally: Tally, who: str, driven: str, frames: float) -> None:
    """Print how our method did, against its goals."""
    answered = len(tally.errors)
    asked = answered + tally.refused
    size = np.abs(tally.errors)
    report.figure(
        f"{who}, drive {driven}: answered",
        f"{answered} of {asked}",
        "95 %",
        answered >= 0.95 * asked,
    )
    report.figure("    wrong way up", f"{tally.wrong_way_up}", "0", tally.wrong_way_up == 0)
    far = sum(size > 20.0)
    report.figure("    wrong place (20 frames and more)", f"{far}", "0", far == 0)
    near = tally.within(frames)
    report.figure(f"    within {frames:g} frames", f"{near} of {answered}", "all", near == answered)
    middle, most = np.median(size), np.percentile(size, 95)
    report.figure("    median, 95 %, worst", f"{middle:.2f}, {most:.2f}, {max(size):.2f}")
    report.figure("    seconds each", f"{tally.seconds / asked:.2f}")


def compared(tally: Tally, who: str, driven: str) -> None:
    """Print how a peer did on the same files."""
    size = np.abs(tally.errors)
    report.figure(f"{who}, drive {driven}: wrong way up", f"{tally.wrong_way_up} of {len(size)}")
    report.figure("    wrong place (20 frames and more)", f"{sum(size > 20.0)}")
    middle, most = np.median(size), np.percentile(size, 95)
    report.figure("    median, 95 %, worst", f"{middle:.2f}, {most:.2f}, {max(size):.2f}")
    report.figure("    seconds each", f"{tally.seconds / len(size):.2f}")


def timed(tallies: dict, key: tuple[str, str], case: Case, method) -> float | None:
    """Run one method on one case, and count it; return how far its place is off."""
    tally = tallies.setdefault(key, Tally())
    began = time.perf_counter()
    delay, inverted = method(case)
    tally.seconds += time.perf_counter() - began
    tally.add(delay, inverted, case)
    return None if delay is None else delay - case.delay


def by_music(case: Case) -> tuple[float | None, bool | None]:
    """Place it as `secondpass offset` does."""
    found = align(case.di, case.recording, rate=RATE)
    way = None if found.polarity == "unsure" else found.polarity == "inverted"
    return found.delay_frames, way


def by_correlation(case: Case) -> tuple[float, bool]:
    """Place it by the largest peak of the plain correlation."""
    likeness = signal.correlate(case.recording, case.di, method="fft")
    lags = signal.correlation_lags(case.recording.size, case.di.size)
    best = int(np.argmax(np.abs(likeness)))
    return float(lags[best]), bool(likeness[best] < 0.0)


def by_phase_transform(case: Case) -> tuple[float, None]:
    """Place it by the largest peak of the phase-transform correlation of the whole files."""
    return float(tdoa(case.recording, case.di)), None


def refusals(*, each: int) -> None:
    """Count answers where there must be none."""
    makers = {
        "another take": another_take,
        "vibrato": lambda seed: wet(seed, {"kind": "vibrato"}),
        "reverb alone": lambda seed: wet(seed, {"kind": "reverb", "mix": 1.0}),
        "no attacks": no_attacks,
        "noise alone": noise_alone,
    }
    for name, maker in makers.items():
        found = [align(*maker(FIRST_SEED + number), rate=RATE) for number in range(each)]
        refused = sum(one.delay_frames is None and bool(one.reason) for one in found)
        report.figure(
            f"{name}: refused with a reason", f"{refused} of {each}", "all", refused == each
        )


def five_minutes() -> None:
    """Place five minutes of playing, find slips and drift in it, and take the time."""
    di = np.concatenate(
        [phrase(rate=RATE, seconds=60.0, seed=FIRST_SEED + 900 + k) for k in range(5)]
    )
    response = random_cabinet(FIRST_SEED + 900, "minimum", rate=RATE)
    out = through(di, drive_db=18.0, response=response, pedals=(), asymmetry=0.2)
    out = np.concatenate((np.zeros(2345), out))
    draw = np.random.default_rng(FIRST_SEED)
    out += draw.standard_normal(out.size) * ratio_from_db(-30.0) * np.sqrt(np.mean(out**2))
    clocks(di, out)
    slipped(di, out, draw)
    on_time(di.astype(np.float32), out.astype(np.float32))


def clocks(di: Floats, out: Floats) -> None:
    """Print how well drift is measured."""
    worst, slips = 0.0, 0
    for ppm in (0.0, 0.3, -12.0, 80.0):
        at = np.arange(out.size) / (1.0 + ppm * 1e-6)
        drifted = map_coordinates(out, [at], order=5, mode="nearest") if ppm else out
        found = align(di, drifted, rate=RATE)
        worst = max(worst, abs((found.drift_ppm or 0.0) - ppm))
        slips += len(found.slips)
    report.figure("drift over five minutes: worst error", f"{worst:.3f} ppm", "0.1", worst <= 0.1)
    report.figure("    slips told that were none", f"{slips}", "0", slips == 0)


def slipped(di: Floats, out: Floats, draw: np.random.Generator) -> None:
    """Print how well slips are found."""
    right = there = 0
    sizes = (1, -1, 3, -16, 64, -256, 512, -2048, 9000)
    for frames in sizes:
        at = int(draw.uniform(20.0, 280.0) * RATE)
        gap = np.zeros(max(frames, 0))
        cut = np.concatenate((out[: at + 2345], gap, out[at + 2345 + max(-frames, 0) :]))
        found: Alignment = align(di, cut, rate=RATE)
        right += [one.frames for one in found.slips] == [frames]
        there += any(abs(one.at_frame - at) <= one.within_frames + 4800 for one in found.slips)
    report.figure(
        "slips: to the frame, and none besides",
        f"{right} of {len(sizes)}",
        "all",
        right == len(sizes),
    )
    report.figure(
        "    between the attacks around them",
        f"{there} of {len(sizes)}",
        "all",
        there == len(sizes),
    )


def on_time(di: Floats, out: Floats) -> None:
    """Print what five minutes cost, as files and beside a recording."""
    began = time.process_time()
    align(di, out, rate=RATE)
    report.figure(
        "five minutes: processor seconds", f"{time.process_time() - began:.2f} s", "2", None
    )
    began = time.perf_counter()
    align(di, out, rate=RATE)
    took = time.perf_counter() - began
    report.figure(
        "five minutes: seconds, files read already", f"{took:.2f} s", "under 2", took < 2.0
    )
    frames, running = min(di.size, out.size), RunningMusic(rate=RATE)
    began = time.process_time()
    for at in range(0, frames, 4 * RATE):
        end = min(at + 4 * RATE, frames)
        running.feed(di[at:end], out[at:end])
    share = (time.process_time() - began) / (frames / RATE)
    report.figure(
        "beside a recording: share of a core", f"{100 * share:.2f} %", "5 %", share < 0.05
    )
    began = time.perf_counter()
    running.alignment()
    report.figure("    answer at its end", f"{time.perf_counter() - began:.2f} s")


if __name__ == "__main__":
    main()
