"""The set-up on rooms in which one thing is wrong: what was planted against what the steps name.

Wire, silence and polarity through the simulated room, as fast as it runs. Rooms follow from printed seeds:
those from 18,000 on judge, no constant was found on them; ``--from`` begins elsewhere. Every room has one
kind planted, in turns; ``--every`` plants each kind in every room. ``--told`` prints what was not named.

Goal: every state is named, and nothing else with it; where nothing is wrong, nothing is said.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import report
from set_up_kinds import ASKED, KINDS, named, planted

from audio.jobs.deck import Deck
from audio.jobs.setting.steps import run_step
from audio.jobs.talk import Silent
from audio.session.folder import create
from audio.vocab.setup import SetupRecord
from audio.vocab.wiring import Wiring
from audio.vocab.wiring_text import wiring_text

FIRST_SEED = 18_000


class Trial(NamedTuple):
    """One room, gone through."""

    seed: int
    kind: str
    records: tuple[SetupRecord, ...]

    @property
    def said(self) -> str:
        return named(self.records)


def main() -> None:
    """Go through the rooms and print the table."""
    said = _said()
    seeds = range(said.first, said.first + said.rooms)
    report.conditions(f"simulated room at free pace, seeds {seeds[0]} to {seeds[-1]}")
    kinds = list(KINDS)
    trials = []
    for seed in seeds:
        for kind in kinds if said.every else [kinds[seed % len(kinds)]]:
            trials.append(Trial(seed, kind, _gone_through(planted(seed, kind))))
            print(f"  {seed}, {kind}: {trials[-1].said}", file=sys.stderr, flush=True)
            if said.told and trials[-1].said != kind:
                _tell(trials[-1])
    for kind in kinds:
        _figure(kind, [one for one in trials if one.kind == kind])


def _said() -> argparse.Namespace:
    parser = report.options(__doc__)
    parser.add_argument("--rooms", type=int, help="how many; 100 when left out")
    parser.add_argument("--from", type=int, default=FIRST_SEED, dest="first", help="first seed")
    parser.add_argument("--every", action="store_true", help="each kind in every room")
    parser.add_argument("--told", action="store_true", help="print what was not named")
    said = parser.parse_args()
    said.rooms = said.rooms or (len(KINDS) if said.short else 100)
    return said


def _gone_through(wiring: Wiring) -> tuple[SetupRecord, ...]:
    with tempfile.TemporaryDirectory(prefix="secondpass-bench-") as scratch:
        text = wiring_text(wiring)
        session = create(Path(scratch) / "evening", name="e", song="s", wiring_text=text)
        with Deck(wiring, Silent()) as deck:
            return tuple(run_step(deck, session, asked, chain="bare path") for asked in ASKED)


def _figure(kind: str, trials: list[Trial]) -> None:
    if not trials:
        return
    right = sum(one.said == kind for one in trials)
    report.figure(kind, f"{right} of {len(trials)}", "all", right == len(trials))
    others = Counter(one.said for one in trials if one.said != kind)
    for said, count in others.most_common():
        seeds = ", ".join(str(one.seed) for one in trials if one.said == said)
        print(f"      {count} named {said}: seeds {seeds}", flush=True)


def _tell(trial: Trial) -> None:
    print(f"      seed {trial.seed}, {trial.kind}: named {trial.said}")
    for record in trial.records:
        print(f"          {record.step}: {record.outcome.headline}")
        for finding in record.outcome.findings:
            print(f"              {finding.code} ({finding.weight}): {finding.text}", flush=True)


if __name__ == "__main__":
    main()
