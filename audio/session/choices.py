"""What listeners sent back of hand-overs, in the journal: noted variant by variant, then as a whole.

A choice is "said" of each variant it names; of a variant that an earlier one of the same listener named it
is taken back. Then follows one line with all of it, originals too. Whatever a crash leaves of these lines,
reading the same text again adds those that are missing. What was read once counts as read: an old mail that
is read again overrules no newer one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import msgspec

from audio.session import journal
from audio.session.disk import local_now
from audio.session.journal import Entry
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.vocab import strict_json
from audio.vocab.blind import listener_problem
from audio.vocab.characters import is_hidden, shown
from audio.vocab.choice import Choice, ChoiceText, remark_problem
from audio.vocab.handover import HandoverNoted
from audio.vocab.layers import sound_problem, variant_number
from audio.vocab.names import name_problem, twin_key

_Wanted = dict[tuple[str, int], Choice]

T = TypeVar("T")


def handed_over(session: Session) -> tuple[HandoverNoted, ...]:
    """Return every hand-over, oldest first; `UseError` if the journal cannot be read."""
    found = (
        _read(entry, HandoverNoted) for entry in journal.told(session.folder, ("handed over",))
    )
    return tuple(one for one in found if one is not None)


def choices_read(session: Session) -> tuple[ChoiceText, ...]:
    """Return every choice that was read, in the order they were, also those that later ones replaced."""
    found = (_read(entry, ChoiceText) for entry in journal.told(session.folder, ("choices read",)))
    return tuple(one for one in found if one is not None and _can_be(one))


def counting(read: tuple[ChoiceText, ...]) -> tuple[ChoiceText, ...]:
    """Return of every listener's choices of a hand-over the last one."""
    return tuple({(one.token, twin_key(one.listener)): one for one in read}.values())


def foreign_problem(
    session: Session, said: ChoiceText, handovers: Sequence[HandoverNoted]
) -> str | None:
    """Return why a choice cannot be noted here, with the way out; None when it can.

    Parameters
    ----------
    session
        Its parts must be there.
    said
        The choice.
    handovers
        Of the session; the choice must be of one of them, and name only what was in it.

    Returns
    -------
    str or None
        One sentence.
    """
    of = next((one for one in handovers if (one.name, one.token) == (said.name, said.token)), None)
    if of is None:
        names = ", ".join(dict.fromkeys(shown(one.name) for one in handovers))
        way_out = f"this session has handed over {names}" if names else "this one has none yet"
        named = f"{shown(said.name)} {said.token}"
        return f"it belongs to another session or hand-over, {named}; {way_out}"
    there = {part.name for song in session.file.songs for part in song.parts}
    for part, keys in said.chosen.items():
        if part not in there:
            return f"there is no part {shown(part)!r} any more; check its name in session.yaml"
        handed = of.sounds.get(part)
        numbers = map(variant_number, keys)
        strange = next((one for one in numbers if one and one not in (handed or ())), None)
        if handed is None or strange:
            what = part if handed is None else f"{part} {strange:03d}"
            return f"{what} was not in the hand-over {shown(of.name)}; ask who sent it to copy it again"
    return None


def note_choice(
    session: Session, said: ChoiceText, *, clock: Callable[[], str] = local_now
) -> bool:
    """Note a choice; return whether it was new. `UseError` if the disk refuses.

    Parameters
    ----------
    session
        Locked by the caller.
    said
        A choice of one of its hand-overs (`foreign_problem`).
    clock
        Gives the time.

    Returns
    -------
    bool
        False where it stands in the journal already: nothing is written then.
    """
    if any(_are_one(one, said) for one in choices_read(session)):
        return False
    wanted = _wanted(said)
    held = _held(session, said)
    back = {key: msgspec.structs.replace(one, place=0, words="") for key, one in held.items()}
    for (part, number), choice in {**back, **wanted}.items():
        if held.get((part, number)) != choice:
            facts = msgspec.to_builtins(choice)
            journal.append(
                session.folder, "said", clock=clock, part=part, number=number, choice=facts
            )
    journal.append(session.folder, "choices read", clock=clock, **msgspec.to_builtins(said))
    return True


def _are_one(one: ChoiceText, other: ChoiceText) -> bool:
    alike = (one.token, one.checksum) == (other.token, other.checksum)
    return alike and twin_key(one.listener) == twin_key(other.listener)


def _wanted(said: ChoiceText) -> _Wanted:
    """Return each variant's choice; what was said to the part stands at the first of them."""
    wanted: _Wanted = {}
    for part, keys in said.chosen.items():
        words = said.words.get(part, "")
        for place, key in enumerate(keys, start=1):
            if (number := variant_number(key)) is not None:
                wanted[part, number] = Choice(
                    listener=said.listener,
                    place=place,
                    blind=said.blind,
                    words=words,
                    handover=said.name,
                    token=said.token,
                )
                words = ""
    return wanted


def _held(session: Session, said: ChoiceText) -> _Wanted:
    """Return what stands in the journal of the same listener and hand-over."""
    return {
        (opinion.part, opinion.number): one
        for opinion in opinions(session)
        for one in opinion.choices
        if one.is_of(said.listener, said.token)
    }


def _read(entry: Entry, kind: type[T]) -> T | None:
    try:
        return strict_json.convert(entry.facts, kind)
    except msgspec.ValidationError:
        return None


def _can_be(one: ChoiceText) -> bool:
    """Return whether a line of the journal may be shown."""
    names: list[str] = [*one.chosen, *one.words]
    texts = (one.name, one.token, one.checksum)
    problems: list[str | None] = [
        listener_problem(one.listener),
        *map(name_problem, names),
        *map(sound_problem, (key for keys in one.chosen.values() for key in keys)),
        *map(remark_problem, one.words.values()),
    ]
    return not any(problems) and not any(is_hidden(c) for text in texts for c in text)
