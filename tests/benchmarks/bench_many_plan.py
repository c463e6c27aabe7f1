"""A thousand lines of a plan beside a thousand variants: is it looked at without a stall?

The session lies in a temporary folder: forty chains with a file; a plan whose entries name them in turn,
so that the order written replugs at every line, which is the dearest to look at; a variant for each line,
half of them of the whole part, which answer none; a journal of ten thousand lines about variants and one
for each pass of a run. All names and sounds are invented, drawn from ``--seed``.

Goal: the plan as it stands within 50 ms of the face's own processor time once it was looked at before, the
median of twenty looks, and also straight after a pass, which changes what is plugged in only where it went
through another chain: there finding the order again is counted too, and has half a second. The first look,
which reads and orders everything, stands beside them.
"""

from __future__ import annotations

import json
import random
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import report
from msgspec.structs import replace
from unit.session_cases import session_with_a_part, variant

from audio.jobs.planning import plan_now
from audio.session import layout
from audio.session.opened import Session
from audio.vocab.chain import Chain, ChainFile, Chains, Pedal
from audio.vocab.plan import PlanNow
from audio.vocab.section import Covers
from audio.vocab.variant import ChainAsSet, Variant

LINES, SHORT_LINES = 1000, 100
CHAINS = 40
SAID = 10_000
POOL = ("fuzz", "drive", "wah", "delay", "tremolo", "compressor")
PART = "rhythm-left"
LOOKS = 20
GOAL_MS, AFTER_MS = 50.0, 500.0


def main() -> None:
    """Make the session, look at its plan, print the figures."""
    parser = report.options(__doc__)
    parser.add_argument("--seed", type=int, default=1)
    said = parser.parse_args()
    lines = SHORT_LINES if said.short else LINES
    with tempfile.TemporaryDirectory(prefix="bench-many-plan-") as folder:
        dice = random.Random(said.seed)  # noqa: S311 - the same session every time
        session, chains = made(Path(folder), dice, lines)
        variants = played(dice, lines)
        report.conditions(f"{lines} lines, {len(variants)} variants, seed {said.seed}")
        look(session, chains, variants)


def look(session: Session, chains: Chains, variants: tuple[Variant, ...]) -> None:
    """Print what looking at the plan costs."""

    def now() -> PlanNow:
        return plan_now(session, chains=chains, variants=variants[:-1], opinions=())

    def later() -> PlanNow:
        return plan_now(session, chains=chains, variants=variants, opinions=())

    first, plan = timed(now)
    again = median(timed(now)[0] for _ in range(LOOKS))
    after, _ = timed(later)
    settled = median(timed(later)[0] for _ in range(LOOKS))
    done = sum(line.state == "done" for line in plan.lines)
    report.figure("lines, of which done", f"{len(plan.lines)}, {done}")
    report.figure("first look", f"{first:.0f} ms")
    shown(again, "looked at again", GOAL_MS)
    shown(after, "after a pass through another chain, once", AFTER_MS)
    shown(settled, "looked at again after it", GOAL_MS)


def shown(took_ms: float, what: str, goal_ms: float) -> None:
    """Print one figure with its goal."""
    report.figure(what, f"{took_ms:.1f} ms", f"{goal_ms:g} ms", took_ms <= goal_ms)


def timed(look_once: Callable[[], PlanNow]) -> tuple[float, PlanNow]:
    """Return the processor time of one look, ms, and what was seen."""
    began = time.process_time()
    plan = look_once()
    return (time.process_time() - began) * 1e3, plan


def made(folder: Path, dice: random.Random, lines: int) -> tuple[Session, Chains]:
    """Return the session, with its plan and journal, and its chains."""
    session = session_with_a_part(folder, part=PART)
    entries = [
        f"  - {{part: {PART}, chain: {chain_name(at)}, seconds: {at // CHAINS}-{1 + at // CHAINS}}}"
        for at in range(lines)
    ]
    layout.plan_yaml(session.folder).write_text("\n".join(["passes:", *entries, ""]))
    with layout.journal(session.folder).open("a", encoding="utf-8") as journal:
        for at in range(SAID):
            told = {"event": "said", "part": PART, "number": 1 + at % lines, "rating": 3}
            journal.write(json.dumps({"at": "2026-11-20T20:00:00+01:00", **told}) + "\n")
        for at in range(lines):
            told = {"event": "run pass", "run": 1, "part": PART, "number": 1 + at, "took_s": 61.5}
            journal.write(json.dumps({"at": "2026-11-20T20:00:00+01:00", **told}) + "\n")
    return session, Chains(found=tuple(chain(dice, at) for at in range(CHAINS)), problems=())


def chain(dice: random.Random, at: int) -> ChainFile:
    """Return one sound."""
    pedals = tuple(
        Pedal(name=name, knobs={knob: str(dice.randint(0, 3)) for knob in ("level", "tone")})
        for name in dice.sample(POOL, dice.randint(0, 4))
    )
    return ChainFile(chain=Chain(name=chain_name(at), pedals=pedals), file=f"{at}.yaml")


def chain_name(at: int) -> str:
    """Return the name of one of the chains."""
    return f"sound {at % CHAINS}"


def played(dice: random.Random, lines: int) -> tuple[Variant, ...]:
    """Return a variant for each line: half of them of the whole part, which answer none."""
    one = variant(1, part=PART)
    return tuple(
        replace(
            one,
            number=1 + at,
            chain=ChainAsSet(name=chain_name(at)),
            made_at=f"2026-11-20T{10 + at // 600:02}:{at // 10 % 60:02}:{at % 10:02}+01:00",
            covers=covers(at // CHAINS) if dice.random() < 0.5 else None,
        )
        for at in range(lines)
    )


def covers(second: int) -> Covers:
    """Return what a pass over one second covers."""
    text = f"{second}-{second + 1} s"
    return Covers(text=text, from_frame=0, frames=9, section_from_frame=1, section_to_frame=8)


if __name__ == "__main__":
    main()
