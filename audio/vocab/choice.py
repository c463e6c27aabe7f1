"""What listeners chose of a hand-over, far from the room, and sent back as a text. Frozen values.

A sound is named by its key (`audio.vocab.layers.SoundName`).
"""

from __future__ import annotations

from typing import Any

import msgspec

from audio.vocab import strict_json
from audio.vocab.blind import listener_problem, same_listener
from audio.vocab.characters import is_hidden, shown

MOST_PLACES = 99
"""Sounds of one part that anybody puts in order; more is no choice any more."""

LONGEST_REMARK = 200
"""Characters of what a listener says to the choice of one part: a line, as the page has it."""

_PLACES = {1: "first", 2: "second", 3: "third"}


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """That one listener chose one variant."""

    listener: str
    place: int
    """1 is the first preference; 0 takes the choice back."""
    blind: bool
    """Whether the names were hidden meanwhile."""
    words: str = ""
    """What was said to it, one line; empty where nothing was."""
    handover: str
    """Name of the hand-over that was listened to."""
    token: str
    """Of that hand-over."""

    def is_of(self, listener: str, token: str) -> bool:
        """Return whether it is a listener's choice of a hand-over."""
        return self.token == token and same_listener(self.listener, listener)


class ChoiceText(msgspec.Struct, frozen=True, kw_only=True):
    """One text as a listener sent it back: all that was chosen of one hand-over."""

    name: str
    """Of the hand-over."""
    token: str
    """Of the hand-over; eight characters."""
    listener: str
    blind: bool
    chosen: dict[str, tuple[str, ...]]
    """Of each part the keys in the order of preference; none where nothing was chosen."""
    words: dict[str, str]
    """What was said to the choice of a part; only of parts to which something was."""
    checksum: str
    """The one it ends with: letters and digits of two texts with the same one are alike."""


def remark_problem(words: str) -> str | None:
    """Return why words cannot stand beside a choice, with the way out; None when they can, or are none."""
    if any(is_hidden(c) for c in words):
        return f"the words {shown(words)!r} have a hidden character in them; write them again without it"
    if len(words) > LONGEST_REMARK:
        return f"the words are {len(words)} characters long; say it in {LONGEST_REMARK}"
    return None


def read_choice(value: Any) -> Choice | None:
    """Return the choice a line of the journal holds; None where it holds none that can be."""
    if not isinstance(value, dict):
        return None
    try:
        choice = strict_json.convert(value, Choice)
    except msgspec.ValidationError:
        return None
    named = f"{choice.handover}{choice.token}"
    if not 0 <= choice.place <= MOST_PLACES or any(map(is_hidden, named)):
        return None
    problem = listener_problem(choice.listener) or remark_problem(choice.words)
    return None if problem else choice


def with_choice(choices: tuple[Choice, ...], said: Choice) -> tuple[Choice, ...]:
    """Return a variant's choices with one more; the listener's earlier one of that hand-over goes."""
    others = tuple(one for one in choices if not one.is_of(said.listener, said.token))
    return (*others, said) if said.place else others


def place_word(place: int) -> str:
    """Return ``first`` for 1, and so on."""
    return _PLACES.get(place, f"{place}th" if place < 21 else f"at place {place}")


def choice_words(choice: Choice) -> str:
    """Return a choice in words: ``chosen first by Ana, blind: “more bite”``."""
    if not choice.place:
        return f"not chosen by {choice.listener} any more"
    how = ", blind" if choice.blind else ""
    words = f": “{choice.words}”" if choice.words else ""
    return f"chosen {place_word(choice.place)} by {choice.listener}{how}{words}"
