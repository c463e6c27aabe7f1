"""Cards of a run in plain lines: what is plugged in what order, and what has to be touched."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping

from audio.vocab.card import CardLine
from audio.vocab.chain import Chain, Change
from audio.vocab.plan import BARE, PlanLine, PlanNow, RunNow
from tui.present.chain_words import card_lines
from tui.present.terminal import clean

WORD_CELLS, NAME_CELLS = 5, 14

STANDBY = "caution: standby while replugging; keep the speaker or its rated load on a valve amp"

PHANTOM = "caution: phantom power off while a microphone is replugged"

BARE_CARD = (
    "card of the bare path",
    "  take every pedal out: the send goes straight into the amp",
    "  the test click measures the round trip, once; every chain is held against it",
    STANDBY,
)


def card(run: RunNow, plan: PlanNow, chains: Mapping[str, Chain]) -> list[str]:
    """Return the card of the line at which a run stands.

    Parameters
    ----------
    run
        It stands at a line, or at the bare path.
    plan
        As it stands.
    chains
        Those that are known, by name.

    Returns
    -------
    list of str
        One line each; empty where it stands at nothing.
    """
    if run.at == BARE:
        return list(BARE_CARD)
    line = plan.line(run.at)
    if line is None:
        return []
    chain = chains.get(line.wanted.chain)
    head = _head(line, plan, repeated=run.repeated)
    if chain is None:
        return [head, *_unknown(line), STANDBY]
    return [head, *_as_set(chain, line.touch), *cautions(line.touch)]


def fitted(lines: Iterable[str], columns: int) -> list[str]:
    """Return lines that fit; what is set of a thing goes on under where it began."""
    indent = WORD_CELLS + NAME_CELLS + 4
    return [
        piece
        for line in lines
        for piece in textwrap.wrap(
            clean(line),
            columns,
            subsequent_indent=" " * (indent if line.startswith("  ") else 2),
            break_long_words=False,
            break_on_hyphens=False,
        )
    ]


def summary(run: RunNow, plan: PlanNow) -> list[str]:
    """Return how a run stands when it is left: what is done, what is left, what is to be looked at."""
    done = sum(line.state == "done" for line in plan.lines)
    state = "is over" if run.state == "ended" else "is held"
    why = f": {run.reason}" if run.state == "held" and run.reason else ""
    head = f"run {run.number} {state}{why}"
    cannot = (
        f"  cannot be played: {_named(x)}: {x.why}" for x in plan.lines if x.state == "cannot"
    )
    looks = [f"  {one}" for one in run.looks]
    return [
        head,
        f"{done} of {len(plan.lines)} lines are done",
        *cannot,
        *(["to be looked at:", *looks] if looks else []),
    ]


def needs_hands(line: PlanLine, chains: Mapping[str, Chain], *, plugged: str) -> bool:
    """Return whether somebody has to touch anything before a line, after the chain that is plugged in.

    Of a chain without a file nobody can tell.
    """
    unknown = line.wanted.chain not in chains and line.wanted.chain != plugged
    return bool(line.touch) or unknown


def _named(line: PlanLine) -> str:
    section = f", {line.wanted.section}" if line.wanted.section else ""
    return f"{line.wanted.part} through {line.wanted.chain}{section}"


def place(run: RunNow, plan: PlanNow) -> str:
    """Return which card of how many it is; of a run that is over how many lines are done."""
    line = plan.line(run.at)
    if line is not None:
        return f"card {plan.lines.index(line) + 1} of {len(plan.lines)}"
    done = sum(one.state == "done" for one in plan.lines)
    return f"{done} of {len(plan.lines)} done"


def _head(line: PlanLine, plan: PlanNow, *, repeated: bool) -> str:
    number = plan.lines.index(line) + 1
    once_more = ", once more" if repeated else ""
    song = f" of {line.song}" if line.song else ""
    return f"card {number} of {len(plan.lines)}: {_named(line)}{song}{once_more}"


def _unknown(line: PlanLine) -> list[str]:
    return [f"  no file tells how {line.wanted.chain} is set: set it as you know it"]


def _as_set(chain: Chain, touch: tuple[Change, ...]) -> Iterator[str]:
    """Yield what stands in the way of the signal, in its order; then what has to come out."""
    lines = card_lines(chain, touch)
    yield from (_row(one) for one in lines if one.word != "out")
    yield from (_row(one) for one in lines if one.word == "out")
    if chain.note:
        yield f"  {chain.note}"


def _row(one: CardLine) -> str:
    """Return one thing: what is to be done with it, its name, how it is set, what it was."""
    was = f"  ({one.was})" if one.was and one.word != "new" else ""
    settings = "  ".join(one.settings)
    return f"  {one.word:{WORD_CELLS}} {one.name:{NAME_CELLS}} {settings}{was}".rstrip()


def cautions(touch: tuple[Change, ...]) -> list[str]:
    """Return what to take care of while so much is touched."""
    plugged = [one for one in touch if one.kind != "turn"]
    cables = any(one.at != "mic" for one in plugged)
    mics = any(one.at == "mic" for one in plugged)
    return [*([STANDBY] if cables else []), *([PHANTOM] if mics else [])]
