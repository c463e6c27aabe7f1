"""An invented plan and a run over it, for a screen that needs no sound."""

from __future__ import annotations

from invented import Names, evening
from msgspec.structs import replace

from audio.jobs import news
from audio.jobs.news import News, Snapshot
from audio.plan.replug import changes, cost
from audio.vocab.chain import AmpAsSet, Chain, ChainFile, MicAsSet, Pedal
from audio.vocab.plan import Costs, PlanLine, PlanNow, RunNow, Wanted
from audio.vocab.variant import Variant

NAMES = Names()

AMP = AmpAsSet(input="bright", knobs={"volume": "4", "treble": "6"}, speaker="2x12", tap="16 ohm")
MIC = MicAsSet(return_name="close", mic="ribbon", place="3 cm off centre", gain="42 dB")
CRUNCH = Chain(
    name="crunch",
    pedals=(
        Pedal(name="tuner"),
        Pedal(name="drive", knobs={"gain": "1:00", "tone": "10:00"}),
    ),
    amps=(AMP,),
    mics=(MIC,),
)
FUZZ = Chain(
    name="fuzz into delay",
    pedals=(
        Pedal(name="tuner"),
        Pedal(name="fuzz", knobs={"volume": "7"}),
        Pedal(name="drive", knobs={"gain": "2:30", "tone": "10:00"}),
    ),
    amps=(AMP,),
    mics=(MIC,),
    note="the red one",
    photos=("board.jpg",),
)
CHAINS = {one.name: one for one in (CRUNCH, FUZZ)}


def line(part: str, chain: str, *, before: Chain | None = None, **fields: object) -> PlanLine:
    """Return a line to do, after a chain that is plugged in; after its own nothing has to be touched."""
    now = CHAINS.get(chain, Chain(name=chain))
    there = now if before is None else before
    usual: dict[str, object] = {
        "wanted": Wanted(key=f"{part}/{chain}", part=part, chain=chain),
        "song": NAMES.song,
        "touch": changes(there, now),
        "cost": cost(there, now, Costs()),
        "known": chain in CHAINS,
    }
    return PlanLine(**(usual | fields))  # type: ignore[arg-type]


PLAN = PlanNow(
    lines=(
        line("rhythm-left", "crunch", state="done", number=1, verdict="good", took_s=64.0),
        line("rhythm-left", "fuzz into delay", before=CRUNCH),
        line("hook", "fuzz into delay"),
        line("hook", "nobody's", before=FUZZ),
    ),
    cost=18.0,
    written_cost=27.0,
)
FIRST, SECOND = PLAN.lines[1].wanted.key, PLAN.lines[2].wanted.key


def planned(*variants: Variant, plan: PlanNow = PLAN) -> tuple[News, ...]:
    """Return the news of an evening with a plan and its chains."""
    told: list[News] = []
    for one in evening(NAMES, *variants):
        if isinstance(one, Snapshot):
            files = tuple(
                ChainFile(chain=chain, file=f"chains/{chain.name}.yaml")
                for chain in CHAINS.values()
            )
            told.append(replace(one, chains=files, plan=plan))
        else:
            told.append(one)
    return tuple(told)


def stands(at: str, *, plan: PlanNow = PLAN, **fields: object) -> news.RunStands:
    """Return where the run stands: it waits, unless told otherwise."""
    usual: dict[str, object] = {"state": "waiting", "number": 1, "at": at}
    return news.RunStands(plan=plan, run=RunNow(**(usual | fields)))  # type: ignore[arg-type]


def passed(at: str) -> PlanNow:
    """Return the plan once the line of a key was played."""
    lines = tuple(
        replace(one, state="done", number=2, verdict="good") if one.wanted.key == at else one
        for one in PLAN.lines
    )
    return replace(PLAN, lines=lines)
