"""The history of one variant: every line of the journal that is about it, in words."""

from __future__ import annotations

from typing import Any

import msgspec

from audio.session import layout
from audio.session.journal import Entry, entry_of
from audio.session.opened import Session
from audio.session.opinions import variant_of
from audio.session.tail import Tail
from audio.vocab import strict_json
from audio.vocab.balance import balance_words, read_balance
from audio.vocab.choice import choice_words, read_choice
from audio.vocab.opinion import Happening
from audio.vocab.saying import rating_problem

_WORDS = {
    "claimed": "its number was claimed",
    "recovered": "recovered after the pass broke off",
    "empty": "nothing rolled",
    "run pass": "in a run",
}

LONGEST_SAID = 200
"""Characters of one word, text or name that a line of the history repeats."""


class _About(msgspec.Struct, frozen=True, kw_only=True):
    """Which variants a line is about; anything where it is about something else."""

    event: Any = None
    part: Any = None
    number: Any = None
    base: Any = None
    section: Any = None
    sounds: Any = None

    def variants(self) -> list[tuple[str, int]]:
        """Return them: of a joined one also those it was made of."""
        if self.event == "handed over":
            return self._handed()
        joined = self.event == "joined"
        numbers = (self.number, self.base, self.section) if joined else (self.number,)
        found = (variant_of(self.part, number) for number in numbers)
        return list(dict.fromkeys(one for one in found if one is not None))

    def _handed(self) -> list[tuple[str, int]]:
        parts = self.sounds.items() if isinstance(self.sounds, dict) else ()
        named = ((part, numbers) for part, numbers in parts if isinstance(numbers, list))
        found = (variant_of(part, number) for part, numbers in named for number in numbers)
        return [one for one in found if one is not None]


_ABOUT = msgspec.json.Decoder(_About)


class Histories:
    """Lines about variants, remembered for one sitting; for one thread.

    They are kept as they stand and read when somebody asks: nobody ever asks for most of them.
    """

    def __init__(self) -> None:
        self._tail = Tail()
        self._lines: dict[tuple[str, int], list[bytes]] = {}

    def look(self, session: Session, part: str, number: int) -> tuple[Happening, ...]:
        """Return all that happened to a variant, oldest first; `UseError` if the journal cannot be read."""
        grown = self._tail.look(layout.journal(session.folder))
        if grown.anew:
            self._lines = {}
        for line in grown.lines:
            for key in _about(line):
                self._lines.setdefault(key, []).append(line)
        rest = [grown.rest] if (part, number) in _about(grown.rest) else []
        found = map(entry_of, (*self._lines.get((part, number), ()), *rest))
        return tuple(
            Happening(at=one.at, text=_text(one, number)) for one in found if one is not None
        )


def _about(line: bytes) -> list[tuple[str, int]]:
    try:
        return strict_json.decode(_ABOUT, line).variants()
    except msgspec.ValidationError:
        return []


def history(
    session: Session, part: str, number: int, *, remembered: Histories | None = None
) -> tuple[Happening, ...]:
    """Return all that happened to a variant and was said of it, in words, oldest first.

    Parameters
    ----------
    session
        Its journal is read.
    part
        The part's name.
    number
        The variant's; one that does not exist has no history.
    remembered
        What earlier looks of the same thread have found.

    Returns
    -------
    tuple of Happening
        Also of lines this program does not know, by the word they have.
    """
    return (remembered or Histories()).look(session, part, number)


def _text(entry: Entry, number: int) -> str:
    """Return what a line says of the variant of a number."""
    event, facts = entry.event, entry.facts
    match event:
        case "said":
            return "; ".join(_said(facts)) or "something was said that this program cannot read"
        case "judged" | "run pass" | "handed over":
            return _ended(event, facts)
        case "joined" if facts.get("number") != number:
            return f"used for {_numbers(facts, 'number')}"
        case "joined":
            return f"made of {_numbers(facts, 'base', 'section')}"
        case _:
            return _WORDS.get(event) or _word(event) or "something"


def _ended(event: str, facts: dict[str, Any]) -> str:
    """Return what came of it, where the line tells that."""
    what = _word(facts.get("name" if event == "handed over" else "verdict"))
    words = _WORDS.get(event, event)
    return f"{words}: {what}" if what else words


def _numbers(facts: dict[str, Any], *roles: str) -> str:
    found = (variant_of("", facts.get(role)) for role in roles)
    return " and ".join(f"{one[1]:03d}" for one in found if one) or "others"


def _said(facts: dict[str, Any]) -> list[str]:
    """Return what was said, each piece in words."""
    pieces = []
    rating = facts.get("rating")
    if type(rating) is int and rating_problem(rating) is None:
        pieces.append(f"rated {rating} of 5" if rating else "the rating taken back")
    if words := _word(facts.get("words")):
        pieces.append(f"“{words}”")
    if photo := _word(facts.get("photo")):
        pieces.append(f"photo {photo}")
    if isinstance(facts.get("called"), str):
        called = _word(facts["called"])
        pieces.append(f"called {called}" if called else "its other name taken back")
    if isinstance(facts.get("chain"), str):
        chain = _word(facts["chain"])
        pieces.append(f"made through {chain}" if chain else "the chain's correction taken back")
    if (choice := read_choice(facts.get("choice"))) is not None:
        pieces.append(choice_words(choice))
    pieces += _of_keeping(facts)
    if isinstance(discarded := facts.get("discarded"), bool):
        pieces.append("discarded" if discarded else "taken back into sight")
    return pieces


def _of_keeping(facts: dict[str, Any]) -> list[str]:
    """Return what was said of keeping and of the balance; of a keeper both stand together."""
    keeper, reason, balance = facts.get("keeper"), facts.get("reason"), _balance(facts)
    if keeper is True:
        why = ", ".join(one for one in (_word(reason), balance) if one)
        return [f"kept: {why}" if why else "kept"]
    pieces = ["not kept any more"] if keeper is False else []
    if keeper is None and isinstance(reason, str):
        why = _word(reason)
        pieces.append(f"kept because: {why}" if why else "the reason for keeping taken back")
    return [*pieces, f"balance: {balance}"] if balance else pieces


def _balance(facts: dict[str, Any]) -> str:
    balance = read_balance(facts.get("balance"))
    return "" if balance is None else _word(balance_words(balance)) or "all at 0 dB"


def _word(value: Any) -> str:
    """Return a text as a line repeats it: nothing where it is none, cut where it is long."""
    if not isinstance(value, str):
        return ""
    return value if len(value) <= LONGEST_SAID else f"{value[: LONGEST_SAID - 1]}…"
