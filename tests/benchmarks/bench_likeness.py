"""The sound of last week: pairs of rooms that differ by one thing, and what is named.

A phrase of fifteen seconds goes through each room three times: twice in a row, which is what was kept, and
once more after one thing was turned: drive ±1 dB, the first microphone ±2 cm, a bell of ±2 dB at 3 kHz,
level ±1 dB (the first microphone's preamp, or the amp's volume), or nothing. Half of the rooms have pedals;
a tremolo runs freely. Two rooms in three have a witness; in the others distances are told by the other
microphone.

Rooms have seeds from 16,100 on: no constant of the program was found on them. Goals: the right thing named
in 45 of 50, nothing never mistaken for something nor something for nothing; under a second for two
returns. ``unclear`` counts as not named. Recorded once only, the floor is unknown: for comparison.

``--rooms 10-19`` plays some of them.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from dataclasses import dataclass

import numpy as np
import report
from likeness_rooms import CHANGES, Change, LikenessRoom, Take, room, take
from material import RATE

from audio.measure.likeness import Phrase, Sounds
from audio.measure.sounds import compare_sounds
from audio.verdict.likeness import judge_likeness
from audio.vocab.likeness import Moved, SoundsCompared

SEED = 16_100
ROOMS, NAMED_GOAL, GOAL_S = 50, 45, 1.0
NAMES = ("close", "room")


@dataclass(frozen=True, kw_only=True)
class Judged:
    """One pair of rooms: what was turned, and what was said."""

    number: int
    change: Change
    sign: int
    chain: str
    moved: Moved
    moved_once: Moved
    """The same where the sound was kept once only."""
    compared: SoundsCompared
    seconds: float

    @property
    def is_named(self) -> bool:
        """Whether the right thing was named."""
        return self.moved.cause == self.change

    @property
    def is_right_way(self) -> bool:
        """Whether it was named with the right sign, too."""
        amount = self.moved.amount
        return self.is_named and (amount is None or (amount > 0.0) == (self.sign > 0))


def main() -> None:
    """Judge every pair and print the figures."""
    said = _said()
    report.conditions(f"rooms {said.rooms[0]} to {said.rooms[-1]}, phrases of fifteen seconds")
    judged = []
    for number in said.rooms:
        one = judge(number, first_seed=said.seed)
        judged.append(one)
        if said.told or not one.is_right_way:
            tell(one)
    figures(judged)


def judge(number: int, *, first_seed: int) -> Judged:
    """Play a pair and judge it."""
    change, sign = CHANGES[number % len(CHANGES)], 1 if number // len(CHANGES) % 2 else -1
    place = room(first_seed + number)
    kept, again, now = take(place, 0), take(place, 1), take(place, 2, change, sign)
    has_witness = bool(number % 3)
    began = time.perf_counter()
    compared = heard(place, kept, again, now, has_witness=has_witness)
    seconds = time.perf_counter() - began
    once = heard(place, kept, None, now, has_witness=has_witness)
    return Judged(
        number=number,
        change=change,
        sign=sign,
        chain=place.chain,
        moved=judge_likeness(compared),
        moved_once=judge_likeness(once),
        compared=compared,
        seconds=seconds,
    )


def heard(
    place: LikenessRoom, kept: Take, again: Take | None, now: Take, *, has_witness: bool
) -> SoundsCompared:
    """Return what is different in a room's recordings."""
    returns = {
        name: Sounds(kept.returns[k], None if again is None else again.returns[k], now.returns[k])
        for k, name in enumerate(NAMES)
    }
    witness = Sounds(kept.witness, None if again is None else again.witness, now.witness)
    return compare_sounds(
        Phrase(place.di, rate=RATE),
        returns,
        witness=witness if has_witness else None,
        sends=True,
        later_frames=None,
        celsius=20.0,
    )


def figures(judged: list[Judged]) -> None:
    """Print what was named."""
    whole = len(judged) == ROOMS
    for change in CHANGES:
        named = Counter(one.moved.cause for one in judged if one.change == change)
        words = ", ".join(f"{cause} {count}" for cause, count in named.most_common())
        report.figure(f"{change}: named", words or "none")
    named = sum(one.is_named for one in judged)
    report.figure(
        "the right thing named",
        f"{named} of {len(judged)}",
        f"{NAMED_GOAL} of {ROOMS}" if whole else "",
        named >= NAMED_GOAL if whole else None,
    )
    report.figure("  the right way, too", f"{sum(one.is_right_way for one in judged)}")
    taken_for = [one for one in judged if one.change != "nothing" and one.moved.cause == "nothing"]
    report.figure("something called nothing", f"{len(taken_for)}", "0", not taken_for)
    invented = [
        one
        for one in judged
        if one.change == "nothing" and one.moved.cause not in ("nothing", "unclear")
    ]
    report.figure("nothing called something", f"{len(invented)}", "0", not invented)
    report.figure("unclear", f"{sum(one.moved.cause == 'unclear' for one in judged)}")
    once = sum(one.moved_once.cause == one.change for one in judged)
    report.figure("kept once only: the right thing named", f"{once} of {len(judged)}")
    middle = float(np.median([one.seconds for one in judged]))
    report.figure(
        "two returns compared in, median", f"{middle:.2f} s", f"under {GOAL_S:g} s", middle < GOAL_S
    )


def tell(one: Judged) -> None:
    """Print what was said of a pair."""
    sign = "" if one.change == "nothing" else f" {'up' if one.sign > 0 else 'down'}"
    print(f"  room {one.number}, {one.chain}, {one.change}{sign}: {one.moved.text}", flush=True)


def _said() -> argparse.Namespace:
    parser = report.options(__doc__)
    parser.add_argument("--rooms", help="room numbers, a dash between; all when left out")
    parser.add_argument("--seed", type=int, default=SEED, help="of the first room")
    parser.add_argument("--told", action="store_true", help="print every pair as it is judged")
    said = parser.parse_args()
    first, _, last = (said.rooms or f"0-{4 if said.short else ROOMS - 1}").partition("-")
    said.rooms = range(int(first), int(last or first) + 1)
    return said


if __name__ == "__main__":
    main()
