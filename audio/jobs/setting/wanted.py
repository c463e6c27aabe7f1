"""What a step needs to be told, in words an engineer types or chooses, and the ask they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import assert_never

from audio.vocab.errors import UseError
from audio.vocab.setup import AskDelay, Asked, AskPolarity
from audio.vocab.step_names import StepName


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One thing that can be told."""

    name: str
    """As the screen shows it, and the command line calls it."""
    asks: str
    """The question, with what may be left out."""
    choices: tuple[str, ...] = ()
    """Empty where it is typed."""
    first: str = ""
    """What it is when nobody said anything."""


OPTIONS: dict[StepName, tuple[Option, ...]] = {
    "delay": (
        Option(
            name="patched",
            asks="An input to which a cable leads straight from the send (empty: through the amp)",
        ),
    ),
}
"""Of each step that needs any, in the order in which they are shown."""


def asked_for(step: StepName, words: Mapping[str, str], *, part: str | None) -> Asked:
    """Return what a step is asked for.

    Parameters
    ----------
    step
        Which one.
    words
        By the option's name; what is missing is as it is when nobody said anything.
    part
        The part it is for, where there is one.

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
    match step:
        case "polarity":
            return AskPolarity()
        case "delay":
            return AskDelay(patched_input=_channel(said, "patched"))
        case "wire" | "silence" | "send level" | "return gain":
            raise UseError(f"{step} cannot be measured yet")
        case _:
            assert_never(step)


def _channel(said: Mapping[str, str], name: str) -> int | None:
    """Return an input's number, None where nothing was said."""
    word = said[name]
    if not word:
        return None
    if not (word.isascii() and word.isdigit() and int(word)):
        raise UseError(f"{name}: {word!r} is no input; inputs count from 1")
    return int(word)
