"""The trials of a blind sitting: which sounds, in which order, behind which places.

All of it is drawn before the first is heard, by dice the caller brings (`random.SystemRandom` where it
counts), so that nothing a listener does can bend what comes next.
"""

from __future__ import annotations

from itertools import combinations
from random import Random
from typing import TypeVar

from audio.plan.chance import Sides, least_answers, proposed_answers
from audio.vocab.blind import Mode, Sitting, Trial

T = TypeVar("T")


def trials_of(sitting: Sitting, dice: Random) -> tuple[Trial, ...]:
    """Return the trials of a sitting, drawn anew.

    Parameters
    ----------
    sitting
        One that can be: `audio.vocab.blind.sitting_problem` and `planned_problem` have nothing against it.
    dice
        Every order they can give is as likely as any other.

    Returns
    -------
    tuple of Trial
        As many as are planned.
    """
    match sitting.mode:
        case "pairs":
            drawn = _pairs(sitting, dice)
        case "ranking":
            drawn = [_shuffled(sitting.sounds, dice) for _ in range(sitting.planned)]
        case "apart":
            drawn = _apart(sitting, dice)
    return tuple(Trial(index=index, behind=one) for index, one in enumerate(drawn, start=1))


def planned_problem(mode: Mode, sounds: int, planned: int) -> str | None:
    """Return why so many trials are not worth a sitting, with the way out; None when they are.

    Parameters
    ----------
    mode
        Of the sitting.
    sounds
        How many it has.
    planned
        Trials; of a ranking rounds.

    Returns
    -------
    str or None
        One sentence.
    """
    least, step = least_planned(mode, sounds), _step(mode, sounds)
    if planned < least:
        return f"{planned} trials can say nothing, however they are answered; plan {least} or more"
    if planned % step:
        near = planned // step * step
        return (
            f"{planned} trials do not ask each of the {step} pairs equally often; plan {near} or"
            f" {near + step}"
        )
    return None


def least_planned(mode: Mode, sounds: int) -> int:
    """Return the fewest trials by which anything can be said, if no answer is a tie."""
    return _step(mode, sounds) * least_answers(sides=_sides(mode), comparisons=_asked(mode, sounds))


def proposed_planned(mode: Mode, sounds: int) -> int:
    """Return how many trials are worth sitting through: they find a clear case four times of five."""
    each = proposed_answers(sides=_sides(mode), comparisons=_asked(mode, sounds))
    return _step(mode, sounds) * each


def _pairs(sitting: Sitting, dice: Random) -> list[tuple[str, ...]]:
    """Return every pair once a round, the rounds shuffled anew; each pair in both orders equally often.

    Which comes first is shuffled over the whole sitting, not in turns: a turn could be foreseen. Of an
    odd number the one left over goes either way.
    """
    rounds = sitting.planned // _step(sitting.mode, len(sitting.sounds))
    pairs = tuple(combinations(sitting.sounds, 2))
    turned = {pair: _balanced(rounds, dice) for pair in pairs}
    return [
        pair[::-1] if turned[pair][at] else pair
        for at in range(rounds)
        for pair in _shuffled(pairs, dice)
    ]


def _apart(sitting: Sitting, dice: Random) -> list[tuple[str, ...]]:
    """Return A, B and X of each trial.

    X is a fair coin each time, never balanced: a listener who counts could foresee the last ones, and what
    chance would do is known exactly because nothing but the coin decides. Which sound is A is drawn once
    and stays: the ear may learn both, which makes small differences audible, and nobody knows by the letter
    which one it is.
    """
    a, b = _shuffled(sitting.sounds, dice)
    return [(a, b, dice.choice((a, b))) for _ in range(sitting.planned)]


def _balanced(count: int, dice: Random) -> list[bool]:
    """Return as many yes as no, up to one, in any order."""
    drawn = [False, True] * (count // 2) + [dice.choice((False, True))] * (count % 2)
    dice.shuffle(drawn)
    return drawn


def _shuffled(items: tuple[T, ...], dice: Random) -> tuple[T, ...]:
    """Return the items in any order, each as likely (Fisher and Yates, as `random.shuffle` does it)."""
    order = list(items)
    dice.shuffle(order)
    return tuple(order)


def _step(mode: Mode, sounds: int) -> int:
    """Return how many trials ask everything once."""
    return sounds * (sounds - 1) // 2 if mode == "pairs" else 1


def _asked(mode: Mode, sounds: int) -> int:
    """Return how many comparisons are told at the end."""
    return 1 if mode == "apart" else sounds * (sounds - 1) // 2


def _sides(mode: Mode) -> Sides:
    return 1 if mode == "apart" else 2
