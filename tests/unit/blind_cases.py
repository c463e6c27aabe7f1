"""Blind sittings and those who sit: listeners who hear nothing, and some who hear."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from audio.plan.blind import trials_of
from audio.vocab.blind import Answer, Mode, Said, Sitting, SittingNow, Trial

PART = "rhythm-left"
TWO = ("003", "005")
THREE = ("003", "005", "original:close")

Listener = Callable[[Trial], Said]


def sitting(
    mode: Mode,
    sounds: tuple[str, ...] = TWO,
    *,
    planned: int,
    number: int = 1,
    listener: str = "Anna",
    part: str = PART,
) -> Sitting:
    return Sitting(
        number=number, part=part, mode=mode, sounds=sounds, listener=listener, planned=planned
    )


def sat(
    one: Sitting, says: Listener, dice: Random, *, answers: int | None = None, ended: bool = False
) -> SittingNow:
    """A sitting, answered as the listener says: all of it, or its first trials."""
    trials = trials_of(one, dice)
    given = tuple(Answer(trial=trial.index, said=says(trial)) for trial in trials[:answers])
    return SittingNow(sitting=one, trials=trials, answers=given, ended=ended)


def scripted(one: Sitting, *said: Said) -> SittingNow:
    """A sitting whose trials all lie as its sounds were chosen; X is A. The answers are given."""
    behind = (*one.sounds, one.sounds[0]) if one.mode == "apart" else one.sounds
    trials = tuple(Trial(index=index, behind=behind) for index in range(1, one.planned + 1))
    answers = tuple(Answer(trial=index, said=what) for index, what in enumerate(said, start=1))
    return SittingNow(sitting=one, trials=trials, answers=answers)


def likes(first: str, then: str) -> Listener:
    """One who always prefers a sound, and after it another."""

    def says(trial: Trial) -> Said:
        best = min(trial.behind, key=lambda sound: (sound != first, sound != then))
        return "first" if trial.behind[0] == best else "second"

    return says


def tossing(dice: Random, *, ties: float = 0.0) -> Listener:
    """One who hears no difference in pairs, and now and then says so."""

    def says(_: Trial) -> Said:
        if dice.random() < ties:
            return "tie"
        return "first" if dice.random() < 0.5 else "second"

    return says
