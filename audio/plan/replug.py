"""What has to be touched between two chains, and what that costs.

Pedals are the same where their names are: a knob that is set otherwise is turned, a pedal that keeps its
neighbours stays plugged. Of all pedals that are in both chains as many as possible stay where they are (the
longest common subsequence of the two orders); the others were moved. Amps, microphones and knobs a chain
does not mention stay as they are: `stands` tells what they are then, over any number of chains.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from typing import TypeVar

from msgspec.structs import replace

from audio.vocab.chain import AmpAsSet, Chain, Change, MicAsSet, Pedal
from audio.vocab.plan import Costs

AMP_WORDS = ("input", "speaker", "tap")
MIC_WORDS = ("mic", "place", "preamp", "gain", "pad", "filters", "outboard")

Part = TypeVar("Part", AmpAsSet, MicAsSet)


def changes(before: Chain | None, after: Chain) -> tuple[Change, ...]:
    """Return what a hand has to do, in the order of the signal; what comes out first.

    Parameters
    ----------
    before
        What is plugged in; None is nothing, and everything is new then.
    after
        What is wanted.

    Returns
    -------
    tuple of Change
        Empty where they are set alike.
    """
    was = before or Chain(name="")
    found = [*_pedals(was.pedals, after.pedals, where="")]
    then = {amp.name: amp for amp in was.amps}
    for amp in after.amps:
        found += _amp(then.pop(amp.name, None), amp, another=bool(was.amps))
    found += [Change(kind="out", at="amp", name=name) for name in then if after.amps]
    there = {mic.return_name: mic for mic in was.mics}
    for mic in after.mics:
        found += _mic(there.get(mic.return_name, MicAsSet(return_name=mic.return_name)), mic)
    return tuple(sorted(found, key=lambda one: one.kind != "out"))


def stands(before: Chain | None, after: Chain) -> Chain:
    """Return what is set once a chain is plugged in: its own, and what it does not mention as it was.

    Parameters
    ----------
    before
        What was set; None where nothing is known.
    after
        What was plugged in then.

    Returns
    -------
    Chain
        Under the name of `after`.
    """
    if before is None:
        return after
    amps = {amp.name: amp for amp in before.amps}
    mics = {mic.return_name: mic for mic in before.mics}
    now = {
        mic.return_name: _with_words(mics, mic.return_name, mic, MIC_WORDS) for mic in after.mics
    }
    return replace(
        after,
        pedals=_pedals_stand(before.pedals, after.pedals),
        amps=tuple(_amp_stands(amps, amp) for amp in after.amps) or before.amps,
        mics=tuple({**mics, **now}.values()),
    )


def _pedals_stand(was: Sequence[Pedal], now: Sequence[Pedal]) -> tuple[Pedal, ...]:
    knobs = {pedal.name: pedal.knobs for pedal in was}
    return tuple(replace(one, knobs={**knobs.get(one.name, {}), **one.knobs}) for one in now)


def _amp_stands(was: Mapping[str, AmpAsSet], now: AmpAsSet) -> AmpAsSet:
    then = was.get(now.name, now)
    return replace(
        _with_words(was, now.name, now, AMP_WORDS),
        knobs={**then.knobs, **now.knobs},
        loop=_pedals_stand(then.loop, now.loop),
    )


def _with_words(was: Mapping[str, Part], name: str, now: Part, words: Sequence[str]) -> Part:
    """Return what is set, with the words it leaves empty as they were."""
    then = was.get(name, now)
    return replace(now, **{word: getattr(now, word) or getattr(then, word) for word in words})


def cost(before: Chain | None, after: Chain, costs: Costs) -> float:
    """Return what it costs to get from one chain to another.

    Parameters
    ----------
    before
        What is plugged in; None is nothing.
    after
        What is wanted.
    costs
        Of a knob, a plug, a pedal, an amp.

    Returns
    -------
    float
        Points, 0 or more; 0 where they are set alike.
    """
    return priced(changes(before, after), before, after, costs)


def priced(touch: Sequence[Change], before: Chain | None, after: Chain, costs: Costs) -> float:
    """Return what it costs where it is known already what has to be done, points."""
    was = before or Chain(name="")
    points = 0.0
    for one in touch:
        if one.kind == "turn":
            points += costs.knob
        elif one.at == "pedal" and one.kind in ("new", "out"):
            points += costs.pedal
        elif one.at == "amp" and one.kind == "new":
            points += costs.amp
        elif one.at == "mic":
            points += costs.knob
    for line, other in _lines(was, after):
        points += costs.plug * _cables(line, other)
    return points


def _lines(was: Chain, after: Chain) -> Iterator[tuple[Sequence[Pedal], Sequence[Pedal]]]:
    """Yield every row of pedals before and after: that in front of the amps, and each amp's loop."""
    yield was.pedals, after.pedals
    then = {amp.name: amp.loop for amp in was.amps}
    for amp in after.amps:
        yield then.pop(amp.name, ()), amp.loop
    if after.amps:
        for loop in then.values():
            yield loop, ()


def _cables(was: Sequence[Pedal], after: Sequence[Pedal]) -> int:
    """Return how many connections of a row of pedals have to be made that are not there now.

    A row of n pedals has n + 1 connections, from what feeds it to what follows it.
    """
    there = set(_joined(was))
    return sum(1 for one in _joined(after) if one not in there)


def _joined(line: Sequence[Pedal]) -> list[tuple[str, str]]:
    names = ["", *(pedal.name for pedal in line), ""]
    return list(itertools.pairwise(names))


def _pedals(was: Sequence[Pedal], after: Sequence[Pedal], *, where: str) -> Iterator[Change]:
    before = {pedal.name: pedal for pedal in was}
    wanted = {pedal.name for pedal in after}
    stays = _common([p.name for p in was], [p.name for p in after])
    for pedal in was:
        if pedal.name not in wanted:
            yield Change(kind="out", at="pedal", name=pedal.name, what=where)
    ahead = ""
    for pedal in after:
        place = f"behind {ahead}" if ahead else "first"
        ahead = pedal.name
        if pedal.name not in before:
            yield Change(kind="new", at="pedal", name=pedal.name, what=f"{where} {place}".strip())
            yield from _turns("pedal", pedal.name, {}, pedal.knobs)
            continue
        if pedal.name not in stays:
            yield Change(kind="moved", at="pedal", name=pedal.name, what=f"{where} {place}".strip())
        yield from _turns("pedal", pedal.name, before[pedal.name].knobs, pedal.knobs)


def _turns(at: str, name: str, was: dict[str, str], now: dict[str, str]) -> Iterator[Change]:
    """Yield the knobs that are set otherwise; one the new chain says nothing of stays as it is."""
    for knob, value in now.items():
        if was.get(knob) != value:
            yield Change(
                kind="turn",
                at=at,  # type: ignore[arg-type]
                name=name,
                what=knob,
                was=was.get(knob, ""),
                now=value,
            )


def _amp(was: AmpAsSet | None, now: AmpAsSet, *, another: bool) -> Iterator[Change]:
    if was is None and another:
        yield Change(kind="new", at="amp", name=now.name)
    then = was or AmpAsSet(name=now.name)
    words = {key: str(getattr(now, key)) for key in AMP_WORDS if getattr(now, key)}
    before = {key: str(getattr(then, key)) for key in AMP_WORDS}
    yield from _turns("amp", now.name, {**then.knobs, **before}, {**words, **now.knobs})
    yield from _pedals(then.loop, now.loop, where="in the loop")


def _mic(was: MicAsSet, now: MicAsSet) -> Iterator[Change]:
    words = {key: str(getattr(now, key)) for key in MIC_WORDS if getattr(now, key)}
    before = {key: str(getattr(was, key)) for key in MIC_WORDS}
    yield from _turns("mic", now.return_name, before, words)


def _common(one: Sequence[str], other: Sequence[str]) -> frozenset[str]:
    """Return a longest common subsequence of names that occur once in each (Wagner and Fischer 1974)."""
    table: list[list[tuple[str, ...]]] = [[()] * (len(other) + 1) for _ in range(len(one) + 1)]
    for i, mine in enumerate(one, start=1):
        for j, yours in enumerate(other, start=1):
            if mine == yours:
                table[i][j] = (*table[i - 1][j - 1], mine)
            else:
                table[i][j] = max(table[i - 1][j], table[i][j - 1], key=len)
    return frozenset(table[-1][-1])
