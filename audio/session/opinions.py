"""What people said of variants afterwards: lines of the journal, folded.

Numbers, files and ``variant.json`` never change by what is said here. The last word of each kind counts;
words and photos add up. Of a line that cannot be, or of what in it cannot be, nothing counts.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec
from msgspec.structs import replace

from audio.files.platform import is_taken
from audio.session import journal, layout, records
from audio.session.chains import chains
from audio.session.disk import local_now, said_plainly
from audio.session.opened import Session
from audio.session.tail import Tail
from audio.vocab import strict_json
from audio.vocab.balance import Balance, read_balance
from audio.vocab.characters import is_hidden
from audio.vocab.choice import read_choice, with_choice
from audio.vocab.errors import UseError
from audio.vocab.opinion import Keeper, Opinion
from audio.vocab.saying import (
    blend_problem,
    called_problem,
    corrected_problem,
    keeping_problem,
    photo_problem,
    rating_problem,
    reason_problem,
    words_problem,
)

HIGHEST_NUMBER = 999_999_999
"""A variant's number is its folder's name, of nine digits at most."""

_MARK = b'"said"'

_Said = dict[tuple[str, int], Opinion]


class Opinions:
    """What was said, for one sitting and one thread; of the journal only what is new is read."""

    def __init__(self) -> None:
        self._tail = Tail()
        self._said: _Said = {}
        self._sorted: tuple[Opinion, ...] | None = ()

    def look(self, session: Session) -> tuple[Opinion, ...]:
        """Return what was said, by part, then number; `UseError` if the journal cannot be read."""
        grown = self._tail.look(layout.journal(session.folder))
        if grown.anew:
            self._said, self._sorted = {}, None
        for line in grown.lines:
            if _fold(self._said, line):
                self._sorted = None
        if self._sorted is None:
            self._sorted = _in_order(self._said)
        if not grown.rest:
            return self._sorted
        said = dict(self._said)  # the journal's last line has no end; it may yet become another one
        return _in_order(said) if _fold(said, grown.rest) else self._sorted


def opinions(session: Session, *, remembered: Opinions | None = None) -> tuple[Opinion, ...]:
    """Return what was said, by part, then number; `UseError` if the journal cannot be read.

    Parameters
    ----------
    session
        Its journal is read.
    remembered
        What earlier looks of the same thread have found.

    Returns
    -------
    tuple of Opinion
        Of those variants only of which anything was said.
    """
    return (remembered or Opinions()).look(session)


def opinion_of(session: Session, part: str, number: int) -> Opinion:
    """Return what was said of one variant; fails as `opinions` does."""
    name = session.part(part)[1].name
    found = (one for one in opinions(session) if (one.part, one.number) == (name, number))
    return next(found, Opinion(part=name, number=number))


def say(
    session: Session,
    part: str,
    number: int,
    *,
    rating: int | None = None,
    words: str | None = None,
    photo: str | None = None,
    called: str | None = None,
    chain: str | None = None,
    discarded: bool | None = None,
    balance: Balance | None = None,
    keeper: bool | None = None,
    reason: str | None = None,
    clock: Callable[[], str] = local_now,
) -> None:
    """Note what somebody says of a variant; what is None is left as it was.

    Parameters
    ----------
    session
        Locked by the caller.
    part
        Its name.
    number
        The variant's.
    rating
        1 to 5; 0 takes it back.
    words
        One line; added to what was said before.
    photo
        Name of a file, which is never opened.
    called
        Another name for it; an empty one takes it back.
    chain
        The chain it was really made through; where a file tells of it, that goes into the journal, too. An
        empty one takes the correction back.
    discarded
        Whether it is out of sight; a keeper is taken back first.
    balance
        How its microphones are balanced; every one is named by its return.
    keeper
        Whether it is chosen: the balance that holds is noted with it. One that was discarded comes back
        into sight.
    reason
        Why it is a keeper, one line or nothing; of one that is a keeper already it changes that alone.
    clock
        Gives the time.

    Raises
    ------
    UseError
        If there is no such variant, nothing is said, a value cannot be, or the disk refuses; nothing is
        noted then.
    """
    name = existing(session, part, number)
    of_keeping = keeper is not None or reason is not None or discarded
    before = opinion_of(session, name, number) if of_keeping else Opinion(part=name, number=number)
    kept = before.keeper is not None
    problems = (
        rating_problem(rating) if rating is not None else None,
        words_problem(words) if words is not None else None,
        photo_problem(photo) if photo is not None else None,
        called_problem(called) if called is not None else None,
        corrected_problem(chain) if chain is not None else None,
        _blend_problem(session, name, number, balance),
        reason_problem(reason) if reason is not None else None,
        keeping_problem(kept=kept, keeper=keeper, reason=reason, discarded=discarded),
    )
    if problem := next(filter(None, problems), None):
        raise UseError(f"{name} {number:03d}: {problem}")
    if keeper:
        balance = before.balance if balance is None and before.balance != Balance() else balance
        discarded = False if before.discarded else discarded
    said = {
        "rating": rating,
        "words": words.strip() if words is not None else None,
        "photo": photo.strip() if photo is not None else None,
        "called": called,
        **_chain_said(session, chain),
        "keeper": keeper,
        "reason": reason.strip() if reason is not None else None,
        "balance": msgspec.to_builtins(balance) if balance is not None else None,
        "discarded": discarded,
    }
    facts = {key: value for key, value in said.items() if value is not None}
    if not facts:
        raise UseError(f"{name} {number:03d}: nothing is said of it; rate it, or say words")
    journal.append(session.folder, "said", part=name, number=number, clock=clock, **facts)


def existing(session: Session, part: str, number: int) -> str:
    """Return the part's own name; `UseError` where it has no variant of this number."""
    name = session.part(part)[1].name
    folder = layout.pass_folder(session.folder, name, number)
    with said_plainly(folder, doing="read"):
        if 1 <= number <= HIGHEST_NUMBER and is_taken(layout.variant_json(folder)):
            return name
    raise UseError(
        f"{name} has no variant {number:03d}; take a number of the list of its variants, or of the"
        f" folders in {layout.part_passes(session.folder, name)}"
    )


def _chain_said(session: Session, chain: str | None) -> dict[str, Any]:
    """Return what is noted of a corrected chain: its name as its file spells it, and what the file says."""
    found = chains(session).named(chain) if chain else None
    if found is None:
        return {"chain": chain}
    content: dict[str, Any] = msgspec.to_builtins(found)
    return {"chain": content.pop("name"), "chain_content": content}


def _blend_problem(session: Session, part: str, number: int, balance: Balance | None) -> str | None:
    """Return why its microphones cannot be balanced so; `UseError` where nobody can say which it has."""
    if balance is None:
        return None
    recorded = records.read_summary(layout.pass_folder(session.folder, part, number))
    return blend_problem(balance, [file.return_name for file in recorded.files])


# ------------------------------------------------------------------ folding


def _in_order(said: _Said) -> tuple[Opinion, ...]:
    return tuple(said[key] for key in sorted(said))


class _Line(msgspec.Struct, frozen=True, kw_only=True):
    """One line; of thousands only what matters here is taken. Anything where it is about something else."""

    at: str
    event: str
    part: Any = None
    number: Any = None
    rating: Any = None
    words: Any = None
    photo: Any = None
    called: Any = None
    chain: Any = None
    chain_content: Any = None
    discarded: Any = None
    balance: Any = None
    keeper: Any = None
    reason: Any = None
    choice: Any = None


_LINE = msgspec.json.Decoder(_Line)


def _line(line: bytes) -> _Line | None:
    try:
        return strict_json.decode(_LINE, line)
    except msgspec.ValidationError:
        return None


def _fold(said: _Said, line: bytes) -> bool:
    """Take one line in; return whether anything was said in it."""
    one = _line(line) if _MARK in line else None
    if one is None or one.event != "said" or (key := variant_of(one.part, one.number)) is None:
        return False
    before = said.get(key) or Opinion(part=key[0], number=key[1])
    said[key] = replace(before, **_changes(before, one))
    return True


def variant_of(part: Any, number: Any) -> tuple[str, int] | None:
    """Return which variant a line of the journal is about; None where it is about none."""
    if not isinstance(part, str) or type(number) is not int:  # true is no number
        return None
    return (part, number) if 1 <= number <= HIGHEST_NUMBER else None


def _changes(before: Opinion, one: _Line) -> dict[str, Any]:
    """Return the fields that a line changes; whatever else it holds changes nothing."""
    changes: dict[str, Any] = {}
    rating, words, photo = one.rating, _text(one.words), _text(one.photo)
    if type(rating) is int and rating_problem(rating) is None:
        changes["rating"] = rating or None
    if words:
        changes["words"] = (*before.words, words)
    if photo and photo not in before.photos:
        changes["photos"] = (*before.photos, photo)
    if (called := _text(one.called)) is not None:
        changes["called"] = called
    if (chain := _text(one.chain)) is not None:
        content = one.chain_content
        changes["chain"] = chain
        changes["chain_content"] = content if chain and isinstance(content, dict) else None
    if (balance := read_balance(one.balance)) is not None:
        changes["balance"] = balance
    if (choice := read_choice(one.choice)) is not None:
        changes["choices"] = with_choice(before.choices, choice)
    keeper = _keeper(before, one, balance or before.balance)
    changes["keeper"] = keeper
    if keeper is not None:
        changes["discarded"] = False  # whatever a line says: what was chosen is not out of sight
    elif isinstance(one.discarded, bool):
        changes["discarded"] = one.discarded
    return changes


def _keeper(before: Opinion, one: _Line, balance: Balance) -> Keeper | None:
    """Return as what it is kept after a line; a reason alone changes that of a keeper."""
    was, reason = before.keeper, _text(one.reason)
    if one.keeper is False:
        return None
    if one.keeper is True:
        told = was.reason if was is not None else ""
        return Keeper(reason=told if reason is None else reason, balance=balance)
    return was if was is None or reason is None else replace(was, reason=reason)


def _text(value: Any) -> str | None:
    """Return a text that has nothing hidden in it; None where it is none."""
    if not isinstance(value, str):
        return None
    plain = value.isascii() and value.isprintable()
    return value if plain or not any(map(is_hidden, value)) else None
