"""What blind sittings have come to, in words; the screen and the command line tell it alike."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, log10

from audio.plan.blind_result import (
    Comparison,
    Outcome,
    PairResult,
    Preferences,
    Standing,
    ToldApart,
    Withheld,
)
from audio.plan.chance import Sides, least_answers
from audio.vocab.blind import Mode
from audio.vocab.layers import DI, original_name
from tui.present.terminal import wrapped

COLUMNS = 80
NOBODY = "Nobody has listened blind yet."

_MODES: dict[Mode, str] = {
    "pairs": "in pairs",
    "ranking": "ranked",
    "apart": "told apart or not (ABX)",
}


def told_lines(comparisons: Sequence[Comparison], columns: int = COLUMNS) -> list[str]:
    """Return all comparisons in plain lines, an empty one between two."""
    if not comparisons:
        return [NOBODY]
    lines: list[str] = []
    for one in comparisons:
        lines += [""] if lines else []
        lines += comparison_lines(one, columns)
    return lines


def comparison_lines(one: Comparison, columns: int = COLUMNS) -> list[str]:
    """Return one comparison in plain lines: its sounds, each listener, all together, what is open."""
    sounds = ", ".join(map(sound_words, one.sounds))
    lines = _wrapped(f"{one.part}: {sounds}, {_MODES[one.mode]}", columns, 0)
    for outcome in one.listeners:
        lines += _outcome_lines(outcome, one, columns)
    if one.together is not None:
        lines += _outcome_lines(one.together, one, columns)
    for sitting in one.withheld:
        lines += _wrapped(withheld_words(sitting), columns, 2)
    return lines


def sound_words(sound: str) -> str:
    """Return what a sound's key is called: ``003``, ``original close``, ``DI``."""
    name = original_name(sound)
    if name is not None:
        return f"original {name}"
    return "DI" if sound == DI else sound


def pair_words(one: PairResult, pairs: int) -> str:
    """Return what came of two sounds, one against the other, in one sentence.

    Parameters
    ----------
    one
        The two.
    pairs
        How many were compared, this one among them.

    Returns
    -------
    str
        Such as ``003 preferred to 005 in 11 of 14 answers, 2 ties: that would be chance in 1 of 17
        (p 0.057): could be chance``.
    """
    a, b = map(sound_words, one.sounds)
    won, lost = one.wins
    answers = won + lost
    if not answers:
        return f"{a} and {b}: no answer{_ties(one.ties, but='but')}: too few answers to say"
    if won == lost:
        head = f"{a} and {b} each preferred in {won} of {_count(answers, 'answer')}"
    else:
        head = f"{a} preferred to {b} in {won} of {_count(answers, 'answer')}"
    head += _ties(one.ties)
    if one.found == "too few answers":
        return f"{head}: {_too_few(sides=2)}"
    among = f"with {pairs} pairs compared, " if pairs > 1 else ""
    return f"{head}: {among}{chance_words(one.p_of_all)}: {one.found}"


def apart_words(one: ToldApart, sounds: Sequence[str]) -> str:
    """Return whether two sounds were told apart, in one sentence; what is not proven is not disproved."""
    a, b = map(sound_words, sounds)
    answers = one.right + one.wrong
    if not answers:
        return f"{a} and {b}: no answer{_ties(one.ties, but='but')}: too few answers to say"
    head = f"X named right in {one.right} of {_count(answers, 'answer')}{_ties(one.ties)}"
    if one.found == "too few answers":
        return f"{head}: {_too_few(sides=1)}"
    found = f"{a} and {b} can be told apart"
    if one.found == "could be chance":
        found = "could be chance, which does not say that they sound the same"
    return f"{head}: {chance_words(one.p)}: {found}"


def standing_words(sounds: Sequence[Standing]) -> str:
    """Return how often each sound was preferred, the one that won most often first."""
    each = (
        f"{sound_words(one.sound)} in {one.wins} of {one.wins + one.losses}{_ties(one.ties)}"
        for one in sounds
    )
    return f"preferred to any other: {'; '.join(each)}"


def withheld_words(one: Withheld) -> str:
    """Return how far a sitting is; what was answered is not told before all of it is in."""
    return (
        f"{one.listener}, sitting {one.number}: {one.answered} of {one.planned} answered; told when all are"
        " in: who stops where it looks good takes chance for a preference"
    )


def chance_words(p: float) -> str:
    """Return how often chance does as much, in words and as the number p.

    Parameters
    ----------
    p
        0 to 1.

    Returns
    -------
    str
        Such as ``that would be chance in 1 of 17 (p 0.057)``; the count is rounded down: never in favour
        of a difference.
    """
    if p > 0.5:
        return f"chance does as much more often than not (p {p_words(p)})"
    return f"that would be chance in {_one_of(p)} (p {p_words(p)})"


def p_words(p: float) -> str:
    """Return p with two digits that say something; under a millionth it says only that."""
    if p < 1e-6:
        return "under 0.000001"
    digits = max(2, 1 - floor(log10(p)))
    return f"{p:.{digits}f}" if p < 0.995 else "1"


def _one_of(p: float) -> str:
    if p < 1e-6:
        return "less than 1 of 1,000,000"
    count = floor(1 / p + 1e-9)
    step = 10 ** max(0, floor(log10(count)) - 1) if count >= 1000 else 1
    return f"1 of {count // step * step:,}"


def _outcome_lines(outcome: Outcome, of: Comparison, columns: int) -> list[str]:
    lines = _wrapped(_head(outcome, of), columns, 2)
    if isinstance(outcome, ToldApart):
        return lines + _wrapped(apart_words(outcome, of.sounds), columns, 4)
    pairs = len(outcome.pairs)
    for one in outcome.pairs:
        lines += _wrapped(pair_words(one, pairs), columns, 4)
    return lines + (_wrapped(standing_words(outcome.sounds), columns, 4) if pairs > 1 else [])


def _head(outcome: Outcome, of: Comparison) -> str:
    """Return whose answers follow, and how many; who ended early is told before any figure."""
    who = outcome.listener or f"all {len(of.listeners)} together, every answer alike"
    rounds = isinstance(outcome, Preferences) and of.mode == "ranking"
    answers = _count(outcome.answers, "round" if rounds else "answer")
    sittings = f" in {outcome.sittings} sittings" if outcome.sittings > 1 else ""
    early = ""
    if outcome.early:
        which = "" if outcome.sittings == 1 else f"{outcome.early} of them "
        early = f"; {which}ended early, so it looks surer than it is"
    return f"{who}: {answers}{sittings}{early}"


def _too_few(*, sides: Sides) -> str:
    return f"too few answers to say; {least_answers(sides=sides)} that are no tie are the least"


def _ties(count: int, *, but: str = "") -> str:
    if not count:
        return ""
    return f"{f' {but}' if but else ','} {_count(count, 'tie')}"


def _count(count: int, what: str) -> str:
    return f"1 {what}" if count == 1 else f"{count} {what}s"


def _wrapped(text: str, columns: int, indent: int) -> list[str]:
    """Return a line, cut into several where it is long; what goes on stands two further in."""
    first, *rest = wrapped(text, columns=columns - 2, indent=indent)
    return [first, *(f"  {line}" for line in rest)]
