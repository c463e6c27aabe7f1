"""One attempt at a pass: kill, look, open again, look again."""

from __future__ import annotations

import json
import re
import shutil
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from playing import write_phrase

from kills import looking
from kills.looking import Found
from kills.points import Moment, PowerFailure, read_notes
from kills.power import Disk
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
sample_rate: 48000
send: {output: 3}
returns: [{name: close, input: 2}, {name: room, input: 3}]
reference: close
witness: {input: 5}
loop: {output: 4, input: 6}
tail_s: 2
"""

FIRST, NEXT, AFTER = 1, 2, 3
"""Numbers of the undisturbed pass, of the one that is killed, and of the one after it."""


@dataclass(frozen=True)
class Ground:
    """A session with one pass in it, and what a further one does and records."""

    template: Path
    notes: Counter[tuple[str, str, str]]
    truth: dict[str, bytes]
    """Captures of the undisturbed pass, by kind."""
    lasts_s: float
    disk: Disk
    """What that pass did to the disk."""


@dataclass(frozen=True)
class Attempt:
    """How one killing went."""

    moment: Moment
    state: str
    """What had become of the pass when everything had ended, and after the next opening."""
    found: Found
    processes_left: int
    hung: int


def prepare(folder: Path, *, seconds: float = 2.0) -> Ground:
    """Make the session and play a pass undisturbed, then another with every operation noted."""
    di = write_phrase(folder / "riff.wav", rate=48_000, seconds=seconds, seed=4)
    wiring = folder / "room.yaml"
    wiring.write_text(WIRING)
    template = folder / "template"
    _must(run(["new", str(template), "--di", str(di), "--wiring", str(wiring)], template))
    _must(_pass(template))
    noted = folder / "noted"
    shutil.copytree(template, noted)
    notes, trace = folder / "notes", folder / "trace"
    trace.mkdir()
    ran = _must(_pass(noted, notes=notes, trace=trace))
    truth = {looking.kind_of(p.name): p.read_bytes() for p in _folder(noted, NEXT).glob("*.wav")}
    disk = Disk(template, noted, trace)
    return Ground(template, read_notes(notes), truth, ran.seconds, disk)


def attempt(ground: Ground, moment: Moment, folder: Path) -> Attempt:
    """Kill at one moment, open the session again with a further pass, and judge both."""
    shutil.copytree(ground.template, folder)
    return _opened_again(ground, moment, folder, _pass(folder, die=moment))


def after_power_failure(ground: Ground, moment: PowerFailure, folder: Path) -> Attempt:
    """Make what a disk may hold after the power failed, open the session with a further pass, judge."""
    rng = np.random.default_rng([moment.seed, moment.step])
    ground.disk.fail(moment.step, folder, rng)
    return _opened_again(ground, moment, folder, None)


def _opened_again(ground: Ground, moment: Moment, session: Path, killed: Ran | None) -> Attempt:
    found = Found()
    before = looking.contents(session)
    state = _state(before)
    following = _pass(session)
    _judge(found, ground, session, before, following)
    runs = [following] if killed is None else [killed, following]
    said = "".join(one.said for one in runs)
    found.claim("Traceback" not in said, said)
    attempt = Attempt(
        moment=moment,
        state=f"{state}, then {_state(looking.contents(session))}",
        found=found,
        processes_left=sum(one.left_behind for one in runs),
        hung=sum(one.code is None for one in runs),
    )
    shutil.rmtree(session)
    shutil.rmtree(scratch(session))
    return attempt


def _judge(
    found: Found,
    ground: Ground,
    session: Path,
    before: dict[str, bytes],
    following: Ran,
) -> None:
    after = looking.contents(session)
    looking.compare(found, before, after, session)
    looking.true_to(found, session, ground.truth, NEXT)
    _judge_number(found, before, following)
    _judge_killed(found, ground, before, after, following)
    for line in after.get("journal.jsonl", b"").splitlines():
        found.claim(looking.json_of(line) is not None or b"{" in line, f"journal line {line!r}")


def _judge_number(found: Found, before: dict[str, bytes], following: Ran) -> None:
    """Judge the pass that follows: it works, and its number was never used."""
    try:
        said = json.loads(following.out)
    except ValueError:
        found.claim(False, f"the next pass failed: {following.said.strip()[-300:]}")
        return
    used = {int(n) for n in re.findall(r"passes/riff/(\d+)/", "\n".join(before))}
    used |= {
        entry["number"]
        for line in before.get("journal.jsonl", b"").splitlines()
        if (entry := looking.json_of(line)) and entry.get("event") == "claimed"
    }
    found.claim(said["number"] > max(used), f"number {said['number']} was used again")
    found.claim(said["verdict"] == "good", f"the next pass is {said['verdict']}")


def _judge_killed(
    found: Found,
    ground: Ground,
    before: dict[str, bytes],
    after: dict[str, bytes],
    following: Ran,
) -> None:
    """Judge what became of the killed pass, and whether one sentence says it."""
    place = f"passes/riff/{NEXT:03d}/"
    told = re.findall(rf"^riff {NEXT:03d}: .*$", following.said, re.MULTILINE)
    if not any(name.startswith(place) for name in before):
        return  # nothing of it was there, or the next pass has taken that number
    judged_before = place + "variant.json" in before
    noted = [looking.json_of(line) or {} for line in before["journal.jsonl"].splitlines()]
    empty = any(e.get("event") == "empty" and e.get("number") == NEXT for e in noted)
    wanted = 0 if judged_before or empty else 1
    found.claim(len(told) == wanted, f"said {len(told)} sentences: {told}")
    variant = looking.json_of(after.get(place + "variant.json"))
    rolled = any(
        name.startswith(place + "riff_") and len(content) > looking.DATA_AT
        for name, content in before.items()
    )
    found.claim((variant is not None) == rolled, "judged though nothing rolled, or left unjudged")
    if variant is None:
        return
    for file in variant["files"]:
        content = after[file["path"]]
        frames = (len(content) - looking.DATA_AT) // 3
        found.claim(file["frames"] == frames, f"variant.json counts {file['frames']} of {frames}")
    if place + "roll.json" in before:
        whole = (len(ground.truth["riff_plain_close.wav"]) - looking.DATA_AT) // 3
        frames = variant["files"][0]["frames"]
        found.claim(frames == whole, f"finished with {frames} of {whole} frames")


def _state(files: dict[str, bytes]) -> str:
    place = f"passes/riff/{NEXT:03d}/"
    variant = looking.json_of(files.get(place + "variant.json"))
    if variant is not None:
        return str(variant["state"])
    if place + "roll.json" in files:
        return "finished"
    if any(name.startswith(place + "riff_") for name in files):
        return "torn"
    return "claimed" if any(name.startswith(place) for name in files) else "nothing"


def _pass(
    session: Path,
    *,
    notes: Path | None = None,
    trace: Path | None = None,
    die: Moment | None = None,
) -> Ran:
    words = ["pass", str(session), "--part", "riff", "--chain", "plain", "--json"]
    return run(words, session, notes=notes, trace=trace, die=die)


def _folder(session: Path, number: int) -> Path:
    return session / "passes" / "riff" / f"{number:03d}"


def _must(ran: Ran) -> Ran:
    if ran.code != 0:
        raise RuntimeError(f"could not be prepared: {ran.said}")
    return ran
