"""What a step needs to be told, in words an engineer types or chooses, and the ask they make."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from msgspec.structs import replace

from audio.jobs.setting.refusals import input_of, refuse_levels
from audio.vocab.errors import UseError
from audio.vocab.session_file import Part
from audio.vocab.setup import (
    AskDelay,
    Asked,
    AskKeepSound,
    AskPolarity,
    AskReturnGain,
    AskSendLevel,
    AskSilence,
    AskSound,
    AskWire,
    PatchState,
)
from audio.vocab.step_names import StepName

YES, NO = "yes", "no"

ATTENDED_S = 60.0
"""Longest steady tone of the wire step where somebody turns the knob and says when it is enough."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One thing that can be told."""

    name: str
    """As the screen shows it and the command line calls it: one word, or two with a dash."""
    asks: str
    """What it is, with what may be left out."""
    choices: tuple[str, ...] = ()
    """Empty where it is typed."""
    first: str = ""
    """What it is when nobody said anything."""
    when: tuple[str, str] | None = None
    """Another option and its word with which alone this one means anything."""


PATCHES: tuple[PatchState, ...] = ("as it is", "unplugged", "plugged", "lifted")


def shown_options(step: StepName, word: Callable[[Option], str]) -> tuple[Option, ...]:
    """Return those options of a step that mean anything with the words that were said of the others."""
    all_of_it = {one.name: one for one in OPTIONS.get(step, ())}
    return tuple(
        one
        for one in all_of_it.values()
        if one.when is None or word(all_of_it[one.when[0]]) == one.when[1]
    )


_BY_LOOP, _BY_VOLTMETER, _TO_KEEP = ("method", "loop"), ("method", "voltmeter"), ("do", "keep")

OPTIONS: dict[StepName, tuple[Option, ...]] = {
    "silence": (
        Option(
            name="patch",
            asks="loop test: cable at the amp's input",
            choices=PATCHES,
            first="as it is",
        ),
    ),
    "send level": (
        Option(
            name="method",
            asks="how it is measured: a cable from the box to the DI input, or a voltmeter at the box",
            choices=("loop", "voltmeter"),
            first="loop",
        ),
        Option(
            name="di-input",
            asks="input that recorded the DI; empty: as the session says",
            when=_BY_LOOP,
        ),
        Option(name="cable", asks="what leads from the box to that input, in words", when=_BY_LOOP),
        Option(
            name="unmoved",
            asks="do pad and gain of that input stand as when the DI was recorded?",
            choices=(NO, YES),
            first=NO,
            when=_BY_LOOP,
        ),
        Option(
            name="volts",
            asks="what the meter reads at the loaded box, V; empty: the tone plays, to be read",
            when=_BY_VOLTMETER,
        ),
        Option(
            name="full-scale",
            asks="full scale of the send, dBu; empty: as the wiring says",
            when=_BY_VOLTMETER,
        ),
        Option(
            name="raw", asks="file of the DI before it was edited; empty: the part's first revision"
        ),
        Option(name="trim", asks="make it up by the part's trim?", choices=(NO, YES), first=NO),
    ),
    "return gain": (
        Option(name="low", asks="lowest peak wanted, dBFS", first="-18"),
        Option(name="high", asks="highest peak wanted, dBFS", first="-8"),
        Option(name="dba", asks="level at your ears off a meter, dBA: tells how long it is safe"),
    ),
    "delay": (
        Option(
            name="patched",
            asks="input to which a cable leads straight from the send; empty: through the amp",
        ),
    ),
    "sound": (
        Option(name="sound", asks="its name; or a pass, such as hook 003; or: original hook"),
        Option(
            name="do",
            asks="find out whether it is the same, or keep what is set up now",
            choices=("compare", "keep"),
            first="compare",
        ),
        Option(
            name="from",
            asks="where the phrase begins, seconds; empty: where it is loudest",
            when=_TO_KEEP,
        ),
        Option(name="notes", asks="settings, places, anything", when=_TO_KEEP),
    ),
}
"""Of each step that needs any, in the order in which they are shown."""


def asked_for(
    step: StepName, words: Mapping[str, str], *, part: Part | None, attended: bool
) -> Asked:
    """Return what a step is asked for.

    Parameters
    ----------
    step
        Which one.
    words
        By the option's name; what is missing is as it is when nobody said anything.
    part
        The part it is for, where there is one.
    attended
        Whether somebody says when it is enough; else it ends by itself.

    Returns
    -------
    Asked
        The ask.

    Raises
    ------
    UseError
        If a word cannot be what it stands for, or something is missing.
    """
    said = {one.name: words.get(one.name, one.first).strip() for one in OPTIONS.get(step, ())}
    return _MAKERS[step](said, part, attended)


def _wire(_said: Mapping[str, str], _part: Part | None, attended: bool) -> Asked:
    return AskWire(seconds=ATTENDED_S) if attended else AskWire()


def _silence(said: Mapping[str, str], _part: Part | None, _attended: bool) -> Asked:
    for patch in PATCHES:
        if said["patch"] == patch:
            return AskSilence(patch=patch)
    raise UseError(f"patch: {said['patch']!r} is none; write one of: {', '.join(PATCHES)}")


def _send_level(said: Mapping[str, str], part: Part | None, attended: bool) -> Asked:
    method = said["method"]
    if method not in ("loop", "voltmeter"):
        raise UseError(f"method: {method!r} is none; write loop or voltmeter")
    one = _needed(part)
    asked = AskSendLevel(
        part=one.name,
        method="loop" if method == "loop" else "voltmeter",
        di_input=input_of(one, _channel(said, "di-input")) if method == "loop" else None,
        cable=said["cable"],
        unmoved=_yes(said, "unmoved"),
        volts=_number(said, "volts", "V, such as 0.35"),
        full_scale_dbu=_number(said, "full-scale", "dBu, such as 18"),
        raw=said["raw"] or None,
        apply_trim=_yes(said, "trim"),
    )
    return replace(asked, cycles=None) if attended else asked


def _return_gain(said: Mapping[str, str], part: Part | None, attended: bool) -> Asked:
    asked = AskReturnGain(part=_needed(part).name, dba=_number(said, "dba", "dBA, such as 98"))
    low, high = _number(said, "low", "dBFS, such as -18"), _number(said, "high", "dBFS, such as -8")
    low, high = asked.low_dbfs if low is None else low, asked.high_dbfs if high is None else high
    asked = replace(asked, low_dbfs=low, high_dbfs=high)
    refuse_levels(asked)
    return replace(asked, cycles=None) if attended else asked


def _polarity(_said: Mapping[str, str], _part: Part | None, _attended: bool) -> Asked:
    return AskPolarity()


def _delay(said: Mapping[str, str], _part: Part | None, _attended: bool) -> Asked:
    return AskDelay(patched_input=_channel(said, "patched"))


def _sound(said: Mapping[str, str], part: Part | None, attended: bool) -> Asked:
    if not said["sound"]:
        raise UseError("sound: say its name, such as 'lead, verse'")
    if said["do"] == "keep":
        return AskKeepSound(
            name=said["sound"],
            part=_needed(part).name,
            from_s=_number(said, "from", "seconds, such as 12.5"),
            notes=said["notes"],
        )
    asked = AskSound(name=said["sound"])
    return replace(asked, cycles=None) if attended else asked


_MAKERS: dict[StepName, Callable[[Mapping[str, str], Part | None, bool], Asked]] = {
    "wire": _wire,
    "silence": _silence,
    "send level": _send_level,
    "return gain": _return_gain,
    "polarity": _polarity,
    "delay": _delay,
    "sound": _sound,
}


def _needed(part: Part | None) -> Part:
    if part is None:
        raise UseError("the session has no DI yet; add one: secondpass add DIR --di FILE")
    return part


def _yes(said: Mapping[str, str], name: str) -> bool:
    if said[name] not in (YES, NO):
        raise UseError(f"{name}: {said[name]!r} is neither; write yes or no")
    return said[name] == YES


def _channel(said: Mapping[str, str], name: str) -> int | None:
    word = said[name]
    if not word:
        return None
    if not (word.isascii() and word.isdigit() and int(word)):
        raise UseError(f"{name}: {word!r} is no input; inputs count from 1")
    return int(word)


def _number(said: Mapping[str, str], name: str, such_as: str) -> float | None:
    """Return a number that was typed, with a hyphen or a minus sign, a point or a comma."""
    word = said[name].replace("\N{MINUS SIGN}", "-").replace(",", ".")
    if not word:
        return None
    try:
        number = float(word)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise UseError(f"{name}: {said[name]!r} is no number; write {such_as}")
    return number
