"""Choices that listeners sent back: read into the journal, and told."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

import msgspec

from audio.files.mail import text_of
from audio.files.text import read_whole
from audio.session import layout
from audio.session.choices import (
    choices_read,
    counting,
    foreign_problem,
    handed_over,
    note_choice,
)
from audio.session.disk import said_plainly
from audio.session.folder import open_session
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.vocab.choice import ChoiceText
from audio.vocab.choice_text import MOST_BYTES, Found, Known, read_choices
from audio.vocab.errors import UseError
from audio.vocab.handover import HandoverNoted
from audio.vocab.layers import original_key, variant_key
from audio.vocab.names import twin_key

MOST_CHOICES = 200
"""Choices in one file; more is no mail."""

MOST_TOLD = 20
"""Choices of which a message says why they cannot be read."""


class ChosenBy(msgspec.Struct, frozen=True, kw_only=True):
    """Who chose a sound."""

    listener: str
    place: int
    """1 is the first preference; 0 where nothing of the part was chosen."""
    blind: bool


class Remark(msgspec.Struct, frozen=True, kw_only=True):
    """What a listener said to the choice of a part."""

    listener: str
    words: str


class SoundChosen(msgspec.Struct, frozen=True, kw_only=True):
    """One sound of a part, and who chose it."""

    sound: str
    """Its key."""
    chosen_by: tuple[ChosenBy, ...]
    """The first preferences first; none where nobody chose it."""


class PartChosen(msgspec.Struct, frozen=True, kw_only=True):
    """What was chosen of one part of one hand-over."""

    part: str
    name: str
    """Of the hand-over."""
    token: str
    sounds: tuple[SoundChosen, ...]
    """The variants that were handed over, and originals somebody chose; the most chosen first."""
    nothing: tuple[ChosenBy, ...]
    """Who chose nothing of it."""
    said: tuple[Remark, ...]


class RefusedChoice(msgspec.Struct, frozen=True, kw_only=True):
    """A choice of the file that was not noted."""

    at: int
    """Which one in the file, from 1."""
    reason: str
    """One sentence."""


class ChoicesTold(msgspec.Struct, frozen=True, kw_only=True):
    """What a file brought, and all that listeners have chosen so far."""

    session: str
    """Its folder, absolute."""
    noted: tuple[ChoiceText, ...] = ()
    already: tuple[ChoiceText, ...] = ()
    """Those that stood in the journal before."""
    refused: tuple[RefusedChoice, ...] = ()
    parts: tuple[PartChosen, ...] = ()


def choices(source: Path | bytes | None, *, folder: Path | None = None) -> ChoicesTold:
    """Note the choices of a file, and return them with all that were noted before.

    Parameters
    ----------
    source
        The file of a text or a saved mail, or what came by standard input. None: only what was noted before
        is told.
    folder
        The session's; where left out, the one the file lies in or under, else the current one.

    Returns
    -------
    ChoicesTold
        What was noted, what was refused, and the table of all.

    Raises
    ------
    UseError
        If there is no session or file, no choice of it can be read, another program has the session, or
        the disk refuses; nothing is changed but by the last of these, and reading again goes on then.
    """
    path = source if isinstance(source, Path) else None
    session = open_session(folder.absolute() if folder else _session_of(path))
    if source is None:
        return _told(session)
    found = found_in(source, known(session))
    with lock_session(session.folder, program="secondpass choices"):
        noted, already, refused = _taken_in(session, found)
    if not noted and not already:
        raise UseError("\n".join(_said_of(source, one) for one in refused[:MOST_TOLD]))
    told = _told(session)
    return msgspec.structs.replace(
        told, noted=tuple(noted), already=tuple(already), refused=tuple(refused)
    )


def found_in(source: Path | bytes, known: Known) -> Sequence[Found]:
    """Return the choices of a file, those that can be read and those that cannot; at least one.

    Parameters
    ----------
    source
        The file of a text or a saved mail, or its content.
    known
        Of every part, the keys of its originals.

    Returns
    -------
    sequence of Found
        In the order they stand there.

    Raises
    ------
    UseError
        If the file cannot be read, or no choice is in it, or too many.
    """
    where, data = _named(source), _content(source)
    found = list(islice(read_choices(text_of(data, where=where), known), MOST_CHOICES + 1))
    if not found:
        raise UseError(
            f"{where}: there is no choice in it; one begins with a line ‘secondpass choice’ and ends with"
            " ‘end of choice’: copy all of it from the page, or save the mail as text"
        )
    if len(found) > MOST_CHOICES:
        raise UseError(f"{where} holds over {MOST_CHOICES} choices; split it into several files")
    return found


def known(session: Session) -> Known:
    """Return what a choice may name: parts there are or that were handed over, and their originals."""
    parts = {part: () for one in handed_over(session) for part in one.sounds}
    there = [part for song in session.file.songs for part in song.parts]
    return parts | {
        one.name: tuple(original_key(original.name) for original in one.originals) for one in there
    }


def _taken_in(
    session: Session, found: Sequence[Found]
) -> tuple[list[ChoiceText], list[ChoiceText], list[RefusedChoice]]:
    """Note what can be noted, the oldest first; return what was new, what was known, what was refused."""
    noted: list[ChoiceText] = []
    already: list[ChoiceText] = []
    refused: list[RefusedChoice] = []
    handovers = handed_over(session)
    for at, one in sorted(enumerate(found, start=1), key=lambda numbered: -numbered[1].quoted):
        said = one.choice
        problem = foreign_problem(session, said, handovers) if said else one.problem
        if said is None or problem:
            refused.append(RefusedChoice(at=at, reason=problem or one.problem))
        else:
            (noted if note_choice(session, said) else already).append(said)
    return noted, already, sorted(refused, key=lambda one: one.at)


def _said_of(source: Path | bytes, one: RefusedChoice) -> str:
    return f"{_named(source)}, choice {one.at}: {one.reason}"


# ------------------------------------------------------------------ where


def _named(source: Path | bytes) -> str:
    return str(source) if isinstance(source, Path) else "standard input"


def _content(source: Path | bytes) -> bytes:
    data = source if isinstance(source, bytes) else _whole(source)
    if len(data) > MOST_BYTES:
        raise UseError(
            f"{_named(source)} is larger than {MOST_BYTES // 1_000_000} MB; save the mail without what is"
            " attached to it, or copy its text into a file"
        )
    return data


def _whole(file: Path) -> bytes:
    with said_plainly(file, doing="read"):
        return read_whole(file)


def _session_of(file: Path | None) -> Path:
    """Return the folder of the session a file lies in, else of the one that is stood in."""
    starts = [Path.cwd(), *([file.absolute().parent] if file else [])][::-1]
    for start in starts:
        with said_plainly(start, doing="read"):
            for one in (start, *start.parents):
                if layout.session_yaml(one).exists():
                    return one
    raise UseError(
        "no session is told: neither the file nor the current folder lies in one; name it with"
        " --session DIR"
    )


# ------------------------------------------------------------------ the table


def _told(session: Session) -> ChoicesTold:
    count = counting(choices_read(session))
    parts = (part for one in handed_over(session) for part in _of_handover(one, count))
    return ChoicesTold(session=str(session.folder), parts=tuple(parts))


def _of_handover(of: HandoverNoted, count: Sequence[ChoiceText]) -> Iterator[PartChosen]:
    """Yield what was chosen of each part of a hand-over; nothing where nobody has sent a choice."""
    said = [one for one in count if (one.name, one.token) == (of.name, of.token)]
    for part, numbers in of.sounds.items():
        mine = [one for one in said if part in one.chosen]
        keys = [variant_key(number) for number in numbers]
        keys += [key for one in mine for key in one.chosen[part]]
        sounds = [
            SoundChosen(sound=key, chosen_by=_chosen_by(part, key, mine))
            for key in dict.fromkeys(keys)
        ]
        if mine:
            yield PartChosen(
                part=part,
                name=of.name,
                token=of.token,
                sounds=tuple(sorted(sounds, key=_most_chosen)),
                nothing=tuple(_by(one, 0) for one in mine if not one.chosen[part]),
                said=tuple(
                    Remark(listener=one.listener, words=one.words[part])
                    for one in mine
                    if part in one.words
                ),
            )


def _chosen_by(part: str, key: str, said: Sequence[ChoiceText]) -> tuple[ChosenBy, ...]:
    mine = (one for one in said if key in one.chosen[part])
    found = [_by(one, one.chosen[part].index(key) + 1) for one in mine]
    return tuple(sorted(found, key=lambda one: (one.place, twin_key(one.listener))))


def _by(one: ChoiceText, place: int) -> ChosenBy:
    return ChosenBy(listener=one.listener, place=place, blind=one.blind)


def _most_chosen(one: SoundChosen) -> tuple[int, int]:
    firsts = sum(by.place == 1 for by in one.chosen_by)
    return -firsts, -len(one.chosen_by)
