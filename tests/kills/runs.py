"""A run over a plan, killed and gone on with: what is left in the end, beside one nobody disturbed."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playing import write_phrase

from kills import looking
from kills.looking import Found
from kills.points import Moment, read_notes
from kills.running import Ran, run, scratch

WIRING = """
name: without noise
device:
  kind: simulated
  pace: free
  inputs: 6
  outputs: 4
  microphones: [{input: 2, cabinet: none}, {input: 3, cabinet: none, distance_cm: 150}]
  amp: {clean: true}
  noise_dbfs: -200
  chains:
    fuzz: [{kind: drive, drive_db: 20}]
    digital: [{kind: digital, ms: 2.5}]
    buffer: [{kind: inverting buffer}]
    tremolo: [{kind: tremolo, hz: 4, depth: 0.5}]
    echo: [{kind: echo, ms: 200, feedback: 0.3, mix: 0.4}]
    wah: [{kind: wah, hz: 900, q: 3}]
sample_rate: 48000
send: {output: 3}
returns: [{name: close, input: 2}, {name: room, input: 3}]
reference: close
tail_s: 6
"""

CHAINS = ("fuzz", "digital", "buffer", "tremolo", "echo", "wah")
MOST_OPENINGS = 6
"""Openings after a kill: each goes on until the run is held by a pass, which a kill may leave torn."""

Line = tuple[str, str]
"""What became of a line of the plan: its state, and the verdict of what answers it."""


@dataclass(frozen=True)
class Ground:
    """A session with a plan, and what a run over it does when nobody kills it."""

    template: Path
    notes: Counter[tuple[str, str, str]]
    lines: dict[str, Line]
    lasts_s: float


@dataclass(frozen=True)
class Attempt:
    """How one run went that was killed."""

    moment: Moment
    found: Found
    openings: int
    """How often it was gone on with."""
    died: bool
    """Whether the kill met it at all."""
    done_before: int
    """Lines that were done when it died."""
    processes_left: int
    hung: int


def prepare(folder: Path, *, parts: int, chains: int, seconds: float = 1.5) -> Ground:
    """Make the session, and run its plan undisturbed with every operation noted."""
    names = [f"part-{number}" for number in range(1, parts + 1)]
    dis = [
        str(write_phrase(folder / f"{name}.wav", rate=48_000, seconds=seconds, seed=seed))
        for seed, name in enumerate(names, start=4)
    ]
    wiring = folder / "room.yaml"
    wiring.write_text(WIRING)
    template = folder / "template"
    _must(run(["new", str(template), "--di", *dis, "--wiring", str(wiring)], template))
    chosen = ", ".join(CHAINS[:chains])
    (template / "plan.yaml").write_text(f"passes: [{{parts: all, chains: [{chosen}]}}]\n")
    noted = folder / "noted"
    shutil.copytree(template, noted)
    notes = folder / "notes"
    ran = _must(_run(noted, notes=notes))
    return Ground(template, read_notes(notes), _lines(json.loads(ran.out)["plan"]), ran.seconds)


def attempt(ground: Ground, moment: Moment, session: Path) -> Attempt:
    """Kill a run at one moment, go on with it until it is over, and judge what is left."""
    shutil.copytree(ground.template, session)
    runs = [_run(session, die=moment)]
    before = _done(session)
    while runs[-1].code not in (0, 2, 3, None) and len(runs) <= MOST_OPENINGS:
        runs.append(_run(session))
    found = Found()
    found.claim("Traceback" not in "".join(one.said for one in runs), runs[-1].said)
    found.claim(runs[-1].code == 0, f"the run was not ended: {runs[-1].said.strip()[-300:]}")
    if runs[-1].code == 0:
        _judge(found, ground, session, json.loads(runs[-1].out))
    attempt = Attempt(
        moment=moment,
        found=found,
        openings=len(runs) - 1,
        died=runs[0].code != 0,
        done_before=before,
        processes_left=sum(one.left_behind for one in runs),
        hung=sum(one.code is None for one in runs),
    )
    shutil.rmtree(session)
    shutil.rmtree(scratch(session))
    return attempt


def _judge(found: Found, ground: Ground, session: Path, said: dict[str, Any]) -> None:
    """Hold the end against that of the undisturbed run: lines, verdicts, numbers, and the journal."""
    lines = _lines(said["plan"])
    found.claim(said["run"]["state"] == "ended", f"the run is {said['run']['state']}")
    for key, line in ground.lines.items():
        found.claim(lines.get(key) == line, f"{key} is {lines.get(key)} instead of {line}")
    journal = _journal(session)
    claimed = Counter((e["part"], e["number"]) for e in journal if e["event"] == "claimed")
    twice = [one for one, count in claimed.items() if count > 1]
    found.claim(not twice, f"numbers used twice: {twice}")
    answers = [(one["wanted"]["part"], one["number"]) for one in said["plan"]["lines"]]
    found.claim(len(set(answers)) == len(answers), f"a variant answers two lines: {answers}")
    runs = {e["run"] for e in journal if e["event"].startswith("run ")}
    found.claim(runs == {1}, f"runs {runs} instead of one that was gone on with")


def _lines(plan: dict[str, Any]) -> dict[str, Line]:
    return {one["wanted"]["key"]: (one["state"], one["verdict"]) for one in plan["lines"]}


def _done(session: Path) -> int:
    return sum(entry["event"] == "run pass" for entry in _journal(session))


def _journal(session: Path) -> list[dict[str, Any]]:
    path = session / "journal.jsonl"
    lines = path.read_bytes().splitlines() if path.exists() else []
    return [entry for entry in map(looking.json_of, lines) if entry is not None]


def _run(session: Path, *, notes: Path | None = None, die: Moment | None = None) -> Ran:
    return run(["run", str(session), "--json"], session, notes=notes, die=die)


def _must(ran: Ran) -> Ran:
    if ran.code != 0:
        raise RuntimeError(f"could not be prepared: {ran.said}")
    return ran
