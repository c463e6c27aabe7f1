"""Blind comparison: who listens to what, what lay behind each place, and what was said. Frozen values.

A sound is named by its key (`audio.vocab.layers.SoundName`).
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.characters import is_hidden, shown
from audio.vocab.layers import sound_problem
from audio.vocab.names import twin_key

Mode = Literal["pairs", "ranking", "apart"]
"""``pairs``: of two, which is liked better. ``ranking``: all of them put in order. ``apart``: X is A or B
(ABX): can the two be told apart at all?"""

Choice = Literal["first", "second", "a", "b", "tie"]
"""``first`` and ``second`` answer a pair, ``a`` and ``b`` say what X is, ``tie`` is an answer to both: no
difference that matters, or none that is heard."""

Said = Choice | tuple[int, ...]
"""An answer: of a ranking the rank of each place, 1 the best; equal ranks are a tie."""

State = Literal["open", "ended early", "complete"]

LETTERS = "ABCDEFGH"
"""Places of a ranking: as many sounds as anybody keeps apart at once (common practice, no source)."""

MOST_TRIALS = 999
"""More than an ear has in it for one part; a larger number is a slip of the finger."""

LONGEST_LISTENER = 40
"""Characters of a listener's name: it stands in a line beside figures."""

_CHOICES: dict[Mode, tuple[Choice, ...]] = {
    "pairs": ("first", "second", "tie"),
    "apart": ("a", "b", "tie"),
    "ranking": (),
}


class Sitting(msgspec.Struct, frozen=True, kw_only=True):
    """What one listener has sat down to: planned beforehand, and told when all of it is answered."""

    number: int
    """From 1, of all sittings of a session."""
    part: str
    mode: Mode
    sounds: tuple[str, ...]
    """Their keys, as they were chosen."""
    listener: str
    planned: int
    """How many trials; of a ranking how many rounds."""


class Trial(msgspec.Struct, frozen=True, kw_only=True):
    """One question."""

    index: int
    """From 1, in the order they are asked."""
    behind: tuple[str, ...]
    """The sound behind each place: first and second; A, B, C and so on; or A, B and X."""


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """What was said to one trial."""

    trial: int
    said: Said


class SittingNow(msgspec.Struct, frozen=True, kw_only=True):
    """A sitting as far as it has come."""

    sitting: Sitting
    trials: tuple[Trial, ...]
    """All that are planned, drawn when it was begun: going on never draws anew."""
    answers: tuple[Answer, ...] = ()
    """As they were given; one a trial."""
    ended: bool = False
    """Somebody said that no more answers will come."""
    begun_at: str = ""
    """As the journal has it: local time with offset, ISO 8601."""

    @property
    def state(self) -> State:
        """Return whether answers are still to come; complete is what has all of them."""
        if len(self.answers) == len(self.trials):
            return "complete"
        return "ended early" if self.ended else "open"

    @property
    def next_trial(self) -> Trial | None:
        """Return the first trial nobody has answered; None where the sitting is over."""
        if self.state != "open":
            return None
        known = {one.trial for one in self.answers}
        return next(one for one in self.trials if one.index not in known)

    def answered(self) -> tuple[tuple[Trial, Answer], ...]:
        """Return each answer with its trial, in the order of the answers."""
        trials = {one.index: one for one in self.trials}
        return tuple((trials[one.trial], one) for one in self.answers)


def listener_problem(name: str) -> str | None:
    """Return why nobody can be called so, with the way out; None when somebody can."""
    if not name.strip():
        return "the listener has no name; say who listens"
    if any(is_hidden(c) for c in name):
        return f"the listener's name {shown(name)!r} has a hidden character in it; type it again"
    if len(name) > LONGEST_LISTENER:
        return f"the listener's name is longer than {LONGEST_LISTENER} characters; shorten it"
    return None


def same_listener(one: str, other: str) -> bool:
    """Return whether two names are one listener's, capitals or not."""
    return twin_key(one.strip()) == twin_key(other.strip())


def mode_problem(mode: Mode, sounds: int) -> str | None:
    """Return why so many sounds cannot be compared so, with the way out; None when they can."""
    if sounds < 2:
        return "one sound alone cannot be compared; choose two or more"
    if mode == "apart" and sounds != 2:
        return f"{sounds} sounds cannot be told apart at once; choose two"
    if sounds > len(LETTERS):
        return f"{sounds} sounds cannot be compared; choose 2 to {len(LETTERS)}"
    return None


def sitting_problem(sitting: Sitting) -> str | None:
    """Return why there can be no such sitting, with the way out; None when there can."""
    sounds, mode = sitting.sounds, sitting.mode
    if len(set(sounds)) < len(sounds):
        return "a sound stands there twice; name each once"
    if problem := mode_problem(mode, len(sounds)):
        return problem
    if not 1 <= sitting.planned <= MOST_TRIALS:
        return f"{sitting.planned} trials cannot be planned; write 1 to {MOST_TRIALS}"
    problems = (listener_problem(sitting.listener), *map(sound_problem, sounds))
    return next(filter(None, problems), None)


def places(mode: Mode, sounds: int) -> tuple[str, ...]:
    """Return what the places of a trial are called, as `Trial.behind` has them."""
    match mode:
        case "pairs":
            return ("first", "second")
        case "apart":
            return ("A", "B", "X")
        case "ranking":
            return tuple(LETTERS[:sounds])


def may_lie_behind(sitting: Sitting, behind: tuple[str, ...]) -> bool:
    """Return whether a trial of a sitting can have these sounds behind its places."""
    if len(behind) != len(places(sitting.mode, len(sitting.sounds))):
        return False
    apart = behind[:2] if sitting.mode == "apart" else behind
    known = set(sitting.sounds)
    return len(set(apart)) == len(apart) and set(behind) <= known


def said_problem(mode: Mode, sounds: int, said: Said) -> str | None:
    """Return why this is no answer to a trial, with the way out; None when it is one.

    Parameters
    ----------
    mode
        Of the sitting.
    sounds
        How many it has.
    said
        The answer.

    Returns
    -------
    str or None
        One sentence.
    """
    if mode == "ranking":
        fits = isinstance(said, tuple) and len(said) == sounds
        if fits and all(isinstance(one, int) and 1 <= one <= sounds for one in said):
            return None
        letters = ", ".join(places(mode, sounds))
        return f"that is no order of {letters}; give each a rank from 1 to {sounds}"
    if said in _CHOICES[mode]:
        return None
    return f"that is no answer here; say {', '.join(_CHOICES[mode][:-1])} or tie"
