"""What a part is played on, and doubles hit by hit, on drawn parts whose truth is known; and how fast.

Parts are drawn (`timed.drawn`): 60 to 200 beats a minute, hands that spread 5 to 25 ms (one standard
deviation), a push or drag of 12 ms, a fifth or so of the places left out, swing 55 to 70 %; mixed is
eighths with every fifth bar in triplets. The goal counts where the spread is no more than a sixth of the
distance of two places; the rest is printed beside it. Rightly named: parts a beat, and swung or not; how
near the swing comes is told apart. At 12 hits, six of them late by it, a light swing cannot be known.

The priors in `audio.grid.subdivision` were set on parts drawn in the same way from seeds below 500,000;
what is judged here has seeds from 1,000,000 on.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from statistics import median

import report
from timed import PLAYED, RATE, Part, at_random, dice, drawn, grid, hits_at

from audio.grid.doubles import compare_doubles
from audio.grid.subdivision import find_subdivision
from audio.grid.timing import against_grid, against_own_mean, against_recording
from audio.vocab.timing import NoTiming, Subdivision

FIRST_SEED = 1_000_000
COUNTS = (12, 40, 200)
NAMED, SURE, FAST_MS = 0.95, 0.9, 50.0


@dataclass
class Tally:
    """How often one kind was named rightly."""

    right: int = 0
    judged: int = 0
    right_wide: int = 0
    judged_wide: int = 0
    swings: list[float] = field(default_factory=list)
    sure: list[bool] = field(default_factory=list)

    def add(self, part: Part, answer: Subdivision | NoTiming, *, wide: bool) -> None:
        right = isinstance(answer, Subdivision) and (
            (answer.parts, answer.swing is None) == (part.parts, part.swing is None)
        )
        self.judged_wide += wide
        self.right_wide += wide and right
        self.judged += not wide
        self.right += right and not wide
        if isinstance(answer, Subdivision):
            if right and answer.swing and part.swing:
                self.swings.append(abs(answer.swing - part.swing))
            if answer.confidence >= SURE:
                self.sure.append(right)


def main() -> None:
    """Run all parts and print them."""
    said = report.options(__doc__).parse_args()
    report.conditions(f"drawn parts, seeds from {FIRST_SEED} on")
    named(trials=10 if said.short else 150)
    lagging(trials=10 if said.short else 100)
    at_chance(trials=10 if said.short else 150)
    doubled(trials=10 if said.short else 100)
    fast()


def share(right: int, of: int) -> str:
    return f"{right}/{of} = {100 * right / of:.1f} %" if of else "none drawn"


# ---------------------------------------------------------------- what a part is played on


def named(*, trials: int) -> None:
    """Name what parts are played on."""
    sure: list[bool] = []
    for kind in PLAYED:
        for hits in COUNTS:
            tally = _tally(kind, hits, trials=trials, late_ms=0.0)
            sure += tally.sure
            _print(f"{kind}, {hits} hits", tally)
    report.figure(f"right where {100 * SURE:.0f} % sure or more", share(sum(sure), len(sure)))


def lagging(*, trials: int) -> None:
    """The same with a grid that lies 40 ms beside the music."""
    for kind in ("eighths", "sixteenths", "swung eighths"):
        _print(f"{kind}, 40 hits, grid 40 ms early", _tally(kind, 40, trials=trials, late_ms=40.0))


def _tally(kind: str, hits: int, *, trials: int, late_ms: float) -> Tally:
    tally = Tally()
    for trial in range(trials):
        rng = dice(FIRST_SEED + 1000 * trial + hits)
        bpm, spread = rng.randint(60, 200), rng.uniform(5.0, 25.0)
        part = drawn(kind, rng=rng, hits=hits, spread_ms=spread, bpm=bpm)
        moved = hits_at(hit.frame + late_ms * RATE / 1000 for hit in part.hits)
        answer = find_subdivision(moved, grid(bpm), rate=RATE)
        tally.add(part, answer, wide=spread > 60_000 / bpm / part.parts / 6)
    return tally


def _print(name: str, tally: Tally) -> None:
    met = tally.right >= NAMED * tally.judged if tally.judged else None
    goal = f"at least {100 * NAMED:.0f} %"
    report.figure(name, share(tally.right, tally.judged), goal, met)
    if tally.judged_wide:
        report.figure("    wider than a sixth", share(tally.right_wide, tally.judged_wide))
    if tally.swings:
        near = sum(error <= 0.03 for error in tally.swings)
        told = f"{100 * median(tally.swings):.1f}, {share(near, len(tally.swings))}"
        report.figure("    swing: median error in points, within 3 points", told)


def at_chance(*, trials: int) -> None:
    """Say of hits at random that no subdivision fits."""
    for hits in COUNTS:
        refused = 0
        for trial in range(trials):
            rng = dice(FIRST_SEED + 1000 * trial + hits)
            bpm = rng.randint(60, 200)
            answer = find_subdivision(at_random(rng=rng, hits=hits, bpm=bpm), grid(bpm), rate=RATE)
            refused += isinstance(answer, NoTiming)
        report.figure(f"at random, {hits} hits: no subdivision", share(refused, trials))


# ---------------------------------------------------------------- doubles


def doubled(*, trials: int) -> None:
    """Find the offset of two takes, and which hits lack a partner."""
    for kind in ("eighths", "sixteenths", "quarters"):
        for hits in COUNTS:
            right = sum(
                _found(kind, hits, seed=FIRST_SEED + 1000 * trial) for trial in range(trials)
            )
            report.figure(f"doubles: {kind}, {hits} hits, all rightly paired", share(right, trials))


def _found(kind: str, hits: int, *, seed: int) -> bool:
    """Return whether two takes, up to 250 ms apart, one hit left out of each, are paired as drawn."""
    rng = dice(seed + hits)
    bpm, spread, late = rng.randint(60, 160), rng.uniform(4.0, 10.0), rng.uniform(-250.0, 250.0)
    first = [hit.frame for hit in drawn(kind, rng=rng, hits=hits, spread_ms=spread, bpm=bpm).hits]
    second = [at + rng.gauss(late, spread) * RATE / 1000 for at in first]
    lacking, alone = rng.sample(range(hits), 2)
    takes = (
        [at for index, at in enumerate(first) if index != lacking],
        [at for index, at in enumerate(second) if index != alone],
    )
    found = compare_doubles(hits_at(takes[0]), hits_at(takes[1]), rate=RATE)
    return [one.at_s for one in found.missing] == [first[alone] / RATE] and [
        one.at_s for one in found.extra
    ] == [second[lacking] / RATE]


# ---------------------------------------------------------------- speed


def fast() -> None:
    """Time 5,000 hits, the best of five, in the process's own time."""
    rng = dice(FIRST_SEED)
    first = drawn("eighths", rng=rng, hits=5000, spread_ms=12.0, bpm=120).hits
    second = hits_at(hit.frame + rng.gauss(30.0, 10.0) * RATE / 1000 for hit in first)
    jobs: dict[str, Callable[[], object]] = {
        "against the grid": lambda: against_grid(first, grid(120), rate=RATE),
        "against the grid, subdivision given": lambda: against_grid(
            first, grid(120), rate=RATE, subdivision=2, swing=0.5
        ),
        "against its own mean": lambda: against_own_mean(first, grid(120), rate=RATE),
        "against a recording": lambda: against_recording(first, second, rate=RATE),
        "doubles": lambda: compare_doubles(first, second, rate=RATE),
        "doubles with places": lambda: compare_doubles(first, second, rate=RATE, bars=grid(120)),
    }
    for name, job in jobs.items():
        took = min(_took_ms(job) for _ in range(5))
        report.figure(
            f"5,000 hits {name}", f"{took:.0f} ms", f"under {FAST_MS:.0f} ms", took < FAST_MS
        )


def _took_ms(job: Callable[[], object]) -> float:
    began = time.process_time()
    job()
    return 1000.0 * (time.process_time() - began)


if __name__ == "__main__":
    main()
