"""Blind sittings in the journal, which is all there is of them: begun, each answer, ended.

What a sitting will ask is drawn once and stands in its first line, so a sitting that broke off goes on with
what nobody has answered. Every answer repeats what lay behind the places: the journal alone tells all.
A line that cannot be counts for nothing; of two answers to one trial the first counts, because whoever gave
the second may have known more.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import count
from random import Random
from typing import Any

import msgspec
from msgspec.structs import replace

from audio.plan.blind import planned_problem, trials_of
from audio.session import journal, layout
from audio.session.disk import local_now
from audio.session.opened import Session
from audio.session.opinions import existing
from audio.session.tail import Tail
from audio.vocab import strict_json
from audio.vocab.blind import (
    Answer,
    Mode,
    Said,
    Sitting,
    SittingNow,
    Trial,
    may_lie_behind,
    said_problem,
    sitting_problem,
)
from audio.vocab.characters import is_hidden, shown
from audio.vocab.errors import UseError
from audio.vocab.layers import original_key, original_name, variant_number
from audio.vocab.names import name_problem

HIGHEST_NUMBER = 999_999_999
"""More than anybody sits down to; a line with a higher one was not written by this program."""

_MARK = b'"blind '

_Known = dict[int, SittingNow]


class Sittings:
    """All sittings, for one evening and one thread; of the journal only what is new is read."""

    def __init__(self) -> None:
        self._tail = Tail()
        self._known: _Known = {}

    def look(self, session: Session) -> tuple[SittingNow, ...]:
        """Return all sittings in the order they began; `UseError` if the journal cannot be read."""
        grown = self._tail.look(layout.journal(session.folder))
        if grown.anew:
            self._known = {}
        for line in grown.lines:
            _fold(self._known, line)
        known = dict(
            self._known
        )  # the journal's last line has no end; it may yet become another one
        _fold(known, grown.rest)
        return tuple(known.values())


def sittings(
    session: Session, *, part: str | None = None, remembered: Sittings | None = None
) -> tuple[SittingNow, ...]:
    """Return sittings with their answers, in the order they began; `UseError` if the journal is unreadable.

    Parameters
    ----------
    session
        Its journal is read.
    part
        Only of this part; of all where left out.
    remembered
        What earlier looks of the same thread have found.

    Returns
    -------
    tuple of SittingNow
        Also those that were broken off or ended early.
    """
    found = (remembered or Sittings()).look(session)
    return tuple(one for one in found if part is None or one.sitting.part == part)


def begin(
    session: Session,
    part: str,
    *,
    mode: Mode,
    sounds: tuple[str, ...],
    listener: str,
    planned: int,
    dice: Random,
    remembered: Sittings | None = None,
    clock: Callable[[], str] = local_now,
) -> SittingNow:
    """Draw the trials of a sitting and note them.

    Parameters
    ----------
    session
        Locked by the caller.
    part
        Its name.
    mode
        How it is compared.
    sounds
        Keys of what is compared.
    listener
        Who listens.
    planned
        How many trials; `audio.plan.blind.proposed_planned` proposes a number.
    dice
        What the trials are drawn by: `random.SystemRandom()` where somebody listens.
    remembered
        What earlier looks of the same thread have found.
    clock
        Gives the time.

    Returns
    -------
    SittingNow
        The sitting; nothing is answered.

    Raises
    ------
    UseError
        If there is no such part or sound, the sitting cannot be or could say nothing, or the disk refuses;
        nothing is noted then.
    """
    taken = {one.sitting.number for one in sittings(session, remembered=remembered)}
    sitting = Sitting(
        number=next(number for number in count(1) if number not in taken),
        part=session.part(part)[1].name,
        mode=mode,
        sounds=sounds,
        listener=listener.strip(),
        planned=planned,
    )
    problem = sitting_problem(sitting) or planned_problem(mode, len(sounds), planned)
    if problem:
        raise UseError(f"{sitting.part}: {problem}")
    for sound in sounds:
        _refuse_missing(session, sitting.part, sound)
    drawn = SittingNow(sitting=sitting, trials=trials_of(sitting, dice), begun_at=clock())
    facts = {key: value for key, value in msgspec.to_builtins(sitting).items() if key != "number"}
    journal.append(
        session.folder,
        "blind begun",
        clock=lambda: drawn.begun_at,
        sitting=sitting.number,
        **facts,
        trials=[one.behind for one in drawn.trials],
    )
    return drawn


def answer(
    session: Session,
    number: int,
    trial: int,
    said: Said,
    *,
    remembered: Sittings | None = None,
    clock: Callable[[], str] = local_now,
) -> SittingNow:
    """Note what was said to a trial; the last one ends the sitting.

    Parameters
    ----------
    session
        Locked by the caller.
    number
        Of the sitting.
    trial
        Its index.
    said
        The answer.
    remembered
        What earlier looks of the same thread have found.
    clock
        Gives the time.

    Returns
    -------
    SittingNow
        The sitting with it.

    Raises
    ------
    UseError
        If no answer is due there, it is none, or the disk refuses; nothing is noted then.
    """
    known = _open(session, number, remembered)
    asked = next((one for one in known.trials if one.index == trial), None)
    if asked is None or trial in {one.trial for one in known.answers}:
        due = known.next_trial
        way_out = f"; the next one is {due.index}" if due else ""
        raise UseError(f"sitting {number}: trial {trial} is not to be answered{way_out}")
    if problem := said_problem(known.sitting.mode, len(known.sitting.sounds), said):
        raise UseError(f"sitting {number}, trial {trial}: {problem}")
    facts = {"sitting": number, "trial": trial, "behind": asked.behind, "said": said}
    journal.append(session.folder, "blind answer", clock=clock, **facts)
    now = replace(known, answers=(*known.answers, Answer(trial=trial, said=said)))
    return _ended(session, now, clock) if now.state == "complete" else now


def end(
    session: Session,
    number: int,
    *,
    remembered: Sittings | None = None,
    clock: Callable[[], str] = local_now,
) -> SittingNow:
    """End a sitting before all of it is answered; nobody can go on with it then.

    Parameters
    ----------
    session
        Locked by the caller.
    number
        Of the sitting.
    remembered
        What earlier looks of the same thread have found.
    clock
        Gives the time.

    Returns
    -------
    SittingNow
        The sitting as it ended.

    Raises
    ------
    UseError
        If there is no such sitting, it is over, or the disk refuses.
    """
    return _ended(session, _open(session, number, remembered), clock)


def _ended(session: Session, known: SittingNow, clock: Callable[[], str]) -> SittingNow:
    facts = {"sitting": known.sitting.number, "early": known.state != "complete"}
    journal.append(session.folder, "blind ended", clock=clock, **facts)
    return replace(known, ended=True)


def _open(session: Session, number: int, remembered: Sittings | None) -> SittingNow:
    """Return a sitting that waits for answers; `UseError` where it is none."""
    for one in sittings(session, remembered=remembered):
        if one.sitting.number == number:
            if one.state == "open":
                return one
            raise UseError(f"sitting {number} is over; begin another one")
    raise UseError(f"there is no sitting {number}; begin one")


def _refuse_missing(session: Session, part: str, sound: str) -> None:
    """Raise `UseError` where a part has no such sound."""
    if (number := variant_number(sound)) is not None:
        existing(session, part, number)
    elif (name := original_name(sound)) is not None:
        there = [one.name for one in session.part(part)[1].originals]
        if name not in there:
            keys = ", ".join(map(original_key, there))
            way_out = f"it has {keys}" if there else "add one with `secondpass add --original`"
            raise UseError(f"{part} has no original {shown(name)!r}; {way_out}")


# ------------------------------------------------------------------ folding


class _Line(msgspec.Struct, frozen=True, kw_only=True):
    """One line about a sitting; anything where it is about something else."""

    at: str
    event: str
    sitting: Any = None


class _Begun(msgspec.Struct, frozen=True, kw_only=True):
    """The first line of a sitting."""

    part: str
    mode: Mode
    sounds: tuple[str, ...]
    listener: str
    planned: int
    trials: tuple[tuple[str, ...], ...]


class _Answered(msgspec.Struct, frozen=True, kw_only=True):
    """One answer."""

    trial: int
    behind: tuple[str, ...]
    said: Said


_LINE = msgspec.json.Decoder(_Line)
_BEGUN = msgspec.json.Decoder(_Begun)
_ANSWERED = msgspec.json.Decoder(_Answered)


def _fold(known: _Known, line: bytes) -> None:
    """Take one line in; one that cannot be changes nothing."""
    if _MARK not in line:
        return
    try:
        _take(known, strict_json.decode(_LINE, line), line)
    except msgspec.ValidationError:
        return


def _take(known: _Known, one: _Line, line: bytes) -> None:
    number = one.sitting
    if type(number) is not int or not 1 <= number <= HIGHEST_NUMBER:  # true is no number
        return
    sat = known.get(number)
    match one.event:
        case "blind begun" if sat is None:
            begun = _begun(number, one.at, strict_json.decode(_BEGUN, line))
            if begun is not None:
                known[number] = begun
        case "blind answer" if sat is not None and sat.state == "open":
            known[number] = _with_answer(sat, strict_json.decode(_ANSWERED, line))
        case "blind ended" if sat is not None:
            known[number] = replace(sat, ended=True)
        case _:
            pass


def _begun(number: int, at: str, line: _Begun) -> SittingNow | None:
    """Return a sitting as its first line has it; None where there can be no such one."""
    sitting = Sitting(
        number=number,
        part=line.part,
        mode=line.mode,
        sounds=line.sounds,
        listener=line.listener,
        planned=line.planned,
    )
    fits = (
        name_problem(line.part) is None
        and sitting_problem(sitting) is None
        and len(line.trials) == line.planned
        and all(may_lie_behind(sitting, behind) for behind in line.trials)
        and not any(map(is_hidden, at))
    )
    if not fits:
        return None
    trials = (Trial(index=index, behind=one) for index, one in enumerate(line.trials, start=1))
    return SittingNow(sitting=sitting, trials=tuple(trials), begun_at=at)


def _with_answer(sat: SittingNow, line: _Answered) -> SittingNow:
    """Return a sitting with one more answer; as it was, where that answers none of its open trials."""
    sitting = sat.sitting
    asked = Trial(index=line.trial, behind=line.behind)
    known = {one.trial for one in sat.answers}
    fits = said_problem(sitting.mode, len(sitting.sounds), line.said) is None
    if asked not in sat.trials or line.trial in known or not fits:
        return sat
    return replace(sat, answers=(*sat.answers, Answer(trial=line.trial, said=line.said)))
