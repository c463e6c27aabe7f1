"""What blind sittings come to: who won how often, and whether it could be chance.

A sitting is told when the number of answers planned beforehand is in. Who looks at the figures as they come
and stops where they look good takes chance for a preference far more often than once in 20 (optional
stopping: P. Armitage, C. K. McPherson, B. C. Rowe, "Repeated Significance Tests on Accumulating Data",
Journal of the Royal Statistical Society A 132, 1969, 235-244). Somebody may end a sitting early all the
same; it is told then, and marked. Sitting down again because the last result did not please is the same
thing by the day: so all sittings over the same sounds count together, and how many they were is told.

One listener's answers, and those of all together, are held against the same thing: that every answer was
the fair coin it is for somebody who hears no difference. Then answers are independent whoever gave them, so
the pooled figure is exact. It says that these answers are no coins, not that other people would answer
so: a listener who answered more weighs more, and two who disagree cancel. So each stands alone first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import combinations
from typing import Literal, TypeAlias

import msgspec

from audio.plan.chance import LIMIT, Sides, binomial_tail, holm, least_answers, sign_test
from audio.vocab.blind import Answer, Mode, SittingNow, Trial
from audio.vocab.names import twin_key

Found = Literal["preferred", "told apart", "could be chance", "too few answers"]
"""``too few answers``: so few that are no tie that nothing could have been said, however they came out."""

Duel = tuple[str, str, Literal[-1, 0, 1]]
"""Two sounds, and which was liked better: 1 the first, -1 the second, 0 neither."""


class PairResult(msgspec.Struct, frozen=True, kw_only=True):
    """Two sounds, one against the other."""

    sounds: tuple[str, str]
    """The one that won more often first."""
    wins: tuple[int, int]
    ties: int
    p: float
    """How often fair coins fall as unevenly, whichever way; 0 to 1."""
    p_of_all: float
    """The same with all pairs taken into account that were compared; what `found` goes by."""
    found: Found


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """One sound against all the others."""

    sound: str
    wins: int
    losses: int
    ties: int


class Preferences(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="preferences"):
    """What somebody likes better, by pairs or by rankings."""

    listener: str
    """Empty for all together."""
    sittings: int
    early: int
    """How many of them were ended before all was answered."""
    answers: int
    """Of pairs; of a ranking its rounds."""
    pairs: tuple[PairResult, ...]
    sounds: tuple[Standing, ...]
    """The one that won most often first."""


class ToldApart(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="told apart"):
    """Whether two sounds can be told apart."""

    listener: str
    """Empty for all together."""
    sittings: int
    early: int
    """How many of them were ended before all was answered."""
    answers: int
    right: int
    wrong: int
    ties: int
    """Could not tell: never counted as right."""
    p: float
    """How often fair coins are right that often or more; 0 to 1."""
    found: Found


Outcome: TypeAlias = Preferences | ToldApart


class Withheld(msgspec.Struct, frozen=True, kw_only=True):
    """A sitting whose answers are not all in: nothing of it is told."""

    number: int
    listener: str
    answered: int
    planned: int


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """All sittings over the same sounds in the same way."""

    part: str
    mode: Mode
    sounds: tuple[str, ...]
    """As they were chosen first."""
    listeners: tuple[Outcome, ...] = ()
    """One each, in the order they first sat down."""
    together: Outcome | None = None
    """All of them; None where there are fewer than two."""
    withheld: tuple[Withheld, ...] = ()


def comparisons(sittings: Iterable[SittingNow]) -> tuple[Comparison, ...]:
    """Return what sittings come to, in the order their sounds were first compared.

    Parameters
    ----------
    sittings
        Of any parts and listeners. Small and capital letters do not tell two listeners apart.

    Returns
    -------
    tuple of Comparison
        One for each part, way and set of sounds.
    """
    groups: dict[tuple[str, Mode, frozenset[str]], list[SittingNow]] = {}
    for one in sittings:
        key = one.sitting.part, one.sitting.mode, frozenset(one.sitting.sounds)
        groups.setdefault(key, []).append(one)
    return tuple(map(_comparison, groups.values()))


def _comparison(group: Sequence[SittingNow]) -> Comparison:
    first = group[0].sitting
    listeners: dict[str, list[SittingNow]] = {}
    for one in group:
        if one.state != "open":
            listeners.setdefault(twin_key(one.sitting.listener), []).append(one)
    every = [one for own in listeners.values() for one in own]
    return Comparison(
        part=first.part,
        mode=first.mode,
        sounds=first.sounds,
        listeners=tuple(_outcome(own, own[0].sitting.listener) for own in listeners.values()),
        together=_outcome(every, "") if len(listeners) > 1 else None,
        withheld=tuple(_withheld(one) for one in group if one.state == "open"),
    )


def _withheld(one: SittingNow) -> Withheld:
    sitting = one.sitting
    return Withheld(
        number=sitting.number,
        listener=sitting.listener,
        answered=len(one.answers),
        planned=sitting.planned,
    )


def _outcome(sat: Sequence[SittingNow], listener: str) -> Outcome:
    if sat[0].sitting.mode == "apart":
        return _told_apart(sat, listener)
    return _preferences(sat, listener)


# ------------------------------------------------------------------ told apart


def _told_apart(sat: Sequence[SittingNow], listener: str) -> ToldApart:
    given = [_is_right(trial, answer) for one in sat for trial, answer in one.answered()]
    right, wrong, ties = (given.count(what) for what in (True, False, None))
    p = binomial_tail(right, right + wrong)
    return ToldApart(
        listener=listener,
        sittings=len(sat),
        early=_early(sat),
        answers=len(given),
        right=right,
        wrong=wrong,
        ties=ties,
        p=float(p),
        found=_found(p, right + wrong, sides=1, otherwise="told apart"),
    )


def _is_right(trial: Trial, answer: Answer) -> bool | None:
    """Return whether X was named; None where the listener could not tell."""
    if answer.said == "tie":
        return None
    a, _, x = trial.behind
    return (x == a) == (answer.said == "a")


# ------------------------------------------------------------------ preferences


def _preferences(sat: Sequence[SittingNow], listener: str) -> Preferences:
    duels = [
        duel for one in sat for trial, answer in one.answered() for duel in _duels(trial, answer)
    ]
    sounds = sat[0].sitting.sounds
    return Preferences(
        listener=listener,
        sittings=len(sat),
        early=_early(sat),
        answers=sum(len(one.answers) for one in sat),
        pairs=_pair_results(sounds, duels),
        sounds=_standings(sounds, duels),
    )


def _duels(trial: Trial, answer: Answer) -> list[Duel]:
    """Return what an answer says of each two sounds it is about."""
    if isinstance(answer.said, tuple):
        ranked = zip(trial.behind, answer.said, strict=True)
        return [(a, b, _better(at, than)) for (a, at), (b, than) in combinations(ranked, 2)]
    first, second = trial.behind
    won: dict[str, Literal[-1, 0, 1]] = {"first": 1, "second": -1, "tie": 0}
    return [(first, second, won[answer.said])]


def _better(rank: int, other: int) -> Literal[-1, 0, 1]:
    if rank == other:
        return 0
    return 1 if rank < other else -1


def _pair_results(sounds: Sequence[str], duels: Sequence[Duel]) -> tuple[PairResult, ...]:
    pairs = list(combinations(sounds, 2))
    won = {pair: [0, 0, 0] for pair in pairs}
    for a, b, which in duels:
        turned = (a, b) not in won
        won[(b, a) if turned else (a, b)][-which if turned else which] += 1
    values = [sign_test(won[pair][1], won[pair][-1]) for pair in pairs]
    results = map(_pair_result, pairs, won.values(), values, holm(values))
    return tuple(results)


def _pair_result(
    pair: tuple[str, str], won: Sequence[int], p: Fraction, p_of_all: Fraction
) -> PairResult:
    ties, first, second = won
    (a, b), wins = pair, (first, second)
    if second > first:
        a, b, wins = b, a, (second, first)
    return PairResult(
        sounds=(a, b),
        wins=wins,
        ties=ties,
        p=float(p),
        p_of_all=float(p_of_all),
        found=_found(p_of_all, first + second, sides=2, otherwise="preferred"),
    )


def _standings(sounds: Sequence[str], duels: Sequence[Duel]) -> tuple[Standing, ...]:
    points = {sound: {1: 0, 0: 0, -1: 0} for sound in sounds}
    for a, b, which in duels:
        points[a][which] += 1
        points[b][-which] += 1
    made = (Standing(sound=s, wins=n[1], losses=n[-1], ties=n[0]) for s, n in points.items())
    return tuple(sorted(made, key=lambda one: (one.losses - one.wins, one.losses)))


def _found(p: Fraction, answers: int, *, sides: Sides, otherwise: Found) -> Found:
    if p <= LIMIT:
        return otherwise
    return "too few answers" if answers < least_answers(sides=sides) else "could be chance"


def _early(sat: Sequence[SittingNow]) -> int:
    return sum(1 for one in sat if one.state == "ended early")
