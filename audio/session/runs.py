"""Runs in the journal, which is their state: begun, a line started, what its pass was, held, ended.

Everything is noted before it happens, or as soon as it has: whoever folds the lines knows what a run was at
when its program died. Which line comes next is nowhere noted: the plan tells, as a variant answers its
line by being there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from msgspec.structs import replace

from audio.files.lock import is_held
from audio.plan.run import UNDER_WAY, after, may_repeat, standing_at, verdict_event
from audio.session import journal, layout
from audio.session.disk import local_now
from audio.session.journal import Entry, Happened
from audio.session.opened import Session
from audio.vocab.findings import Verdict
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import BARE, PlanNow, RunNow, Wanted
from audio.vocab.variant import Summary

OF_RUNS: tuple[Happened, ...] = (
    "run begun",
    "run line",
    "run bare",
    "run pass",
    "run held",
    "run ended",
)

VERDICTS: tuple[Verdict, ...] = ("good", "look", "redo")


def run_now(session: Session, plan: PlanNow) -> RunNow:
    """Return the run as the journal has it; one that nobody runs any more is held.

    Parameters
    ----------
    session
        Its journal is read; `UseError` if it cannot be.
    plan
        Tells which line comes next, and what became of a line whose program died over it.

    Returns
    -------
    RunNow
        Nobody runs it where nobody holds the session's lock.
    """
    told = _fold(session)
    run = standing_at(told.run, plan, redone=frozenset(told.redone))
    run = _with_looks(run, told, plan)
    if run.state in UNDER_WAY and not is_held(layout.face_lock(session.folder)):
        return standing_at(_held(run, told.why_it_ended()), plan, redone=frozenset(told.redone))
    return run


def is_going(session: Session) -> bool:
    """Return whether a run waits, plays or is held; `UseError` if the journal cannot be read."""
    return _fold(session).run.state in (*UNDER_WAY, "held")


def take_up(session: Session, reason: str = "") -> None:
    """Hold a run that is under way and that nobody runs now.

    Parameters
    ----------
    session
        The caller holds its lock.
    reason
        Why; what the program was at that died over it, where left out.
    """
    told = _fold(session)
    if told.run.state in UNDER_WAY:
        hold(session, told.run.number, reason or told.why_it_ended())


def died_over(session: Session) -> tuple[str, ...]:
    """Return the lines of the newest run over which its program died; `UseError` as `run_now`."""
    return tuple(key for key, known in _fold(session).started.items() if not known)


def begin(
    session: Session, run: RunNow, *, repeat_redo: bool, clock: Callable[[], str] = local_now
) -> None:
    """Note that a run begins, or that one that is held goes on; `UseError` if the disk refuses."""
    number = run.number if run.state == "held" else run.number + 1
    _note(session, "run begun", number, clock, repeat_redo=repeat_redo)


def start_line(
    session: Session,
    number: int,
    key: str,
    wanted: Wanted | None,
    *,
    clock: Callable[[], str] = local_now,
) -> None:
    """Note that a line is played from now on; `UseError` if the disk refuses: nothing may sound then.

    Parameters
    ----------
    session
        The caller holds its lock.
    number
        Of the run.
    key
        Of the line.
    wanted
        What it asks for; None where the bare path is measured.
    clock
        Gives the time.
    """
    part = wanted.part if wanted else ""
    chain = wanted.chain if wanted else BARE_PATH
    _note(session, "run line", number, clock, key=key, part=part, chain=chain)


def note_pass(
    session: Session,
    number: int,
    wanted: Wanted,
    *,
    variant: Summary,
    took_s: float,
    text: str,
    clock: Callable[[], str] = local_now,
) -> None:
    """Note what a line's pass was; `UseError` if the disk refuses.

    Parameters
    ----------
    session
        The caller holds its lock.
    number
        Of the run.
    wanted
        The line.
    variant
        What it left.
    took_s
        From its card to its verdict, seconds.
    text
        Its heaviest finding; empty where there is none.
    clock
        Gives the time.
    """
    _note(
        session,
        "run pass",
        number,
        clock,
        key=wanted.key,
        part=variant.part,
        number=variant.number,
        verdict=variant.verdict,
        took_s=round(took_s, 1),
        text=text,
    )


def bare_known(session: Session, number: int, *, clock: Callable[[], str] = local_now) -> None:
    """Note that the bare path was measured, and the run waits again; `UseError` if the disk refuses."""
    _note(session, "run bare", number, clock)


def hold(
    session: Session, number: int, reason: str, *, clock: Callable[[], str] = local_now
) -> None:
    """Note that a run is held; `UseError` if the disk refuses."""
    _note(session, "run held", number, clock, reason=reason)


def end(session: Session, number: int, *, clock: Callable[[], str] = local_now) -> None:
    """Note that a run is over; `UseError` if the disk refuses."""
    _note(session, "run ended", number, clock)


def _note(
    session: Session, event: Happened, run: int, clock: Callable[[], str], **facts: object
) -> None:
    journal.append(session.folder, event, clock=clock, run=run, **facts)


# ---------------------------------------------------------------- folding


@dataclass
class _Told:
    """The journal's lines so far."""

    run: RunNow = field(default_factory=RunNow)
    line: tuple[str, str] = ("", "")
    """Part and chain of the line that was started last."""
    redone: set[str] = field(default_factory=set)
    """Lines that were to be done again since somebody went on last."""
    started: dict[str, bool] = field(default_factory=dict)
    """Lines of this run that were started; whether the journal says what their pass was."""

    def why_it_ended(self) -> str:
        """Return what a run was at when its program died, and what to do."""
        if self.run.state != "playing":
            return "the program ended between two passes; nothing has sounded since"
        what, kept = " through ".join(self.line), "what was recorded is kept and judged"
        if self.run.at == BARE:
            what, kept = "the bare path was measured", "nothing is lost"
            return f"the program ended while {what}; {kept}"
        return f"the program ended while {what} was played; {kept}"

    def take(self, entry: Entry) -> None:
        """Fold one line in; what cannot be read as one of a run is passed over."""
        number = entry.facts.get("run")
        if not isinstance(number, int) or isinstance(number, bool):
            return
        match entry.event:
            case "run begun":
                self._begun(number, entry)
            case "run line":
                self._line(entry)
            case "run bare":
                self.run = replace(self.run, state="waiting", at="")
            case "run pass":
                self._pass(entry)
            case "run held":
                self.run = _held(self.run, _word(entry, "reason"))
            case "run ended":
                self.run = replace(self.run, state="ended", at="", reason="")
            case _:
                pass

    def _begun(self, number: int, entry: Entry) -> None:
        goes_on = number == self.run.number
        self.redone.clear()
        if not goes_on:
            self.started.clear()
        self.run = RunNow(
            state="waiting",
            number=number,
            looks=self.run.looks if goes_on else (),
            repeat_redo=entry.facts.get("repeat_redo") is True,
        )

    def _line(self, entry: Entry) -> None:
        key = _word(entry, "key")
        self.line = (_word(entry, "part"), _word(entry, "chain"))
        if key != BARE:
            self.started[key] = False
        self.run = replace(self.run, state="playing", at=key, reason="")

    def _pass(self, entry: Entry) -> None:
        key, verdict = _word(entry, "key"), entry.facts.get("verdict")
        if verdict not in VERDICTS:
            return
        self.started[key] = True
        again = may_repeat(self.run, repeated=key in self.redone)
        state = after("playing", verdict_event(verdict, may_repeat=again)) or "held"
        said = _said(entry, self.line[1])
        if verdict == "redo":
            self.redone.add(key)
        looks = (*self.run.looks, said) if verdict == "look" else self.run.looks
        reason = said if state == "held" else ""
        self.run = replace(self.run, state=state, at="", reason=reason, looks=looks)


def _fold(session: Session) -> _Told:
    told = _Told()
    for entry in journal.told(session.folder, OF_RUNS):
        told.take(entry)
    return told


def _with_looks(run: RunNow, told: _Told, plan: PlanNow) -> RunNow:
    """Collect also what was judged after the program had died over it."""
    lines = (plan.line(key) for key, known in told.started.items() if not known)
    late = tuple(
        f"{line.wanted.part} {line.number:03d} through {line.wanted.chain}"
        for line in lines
        if line is not None and line.verdict == "look" and line.number is not None
    )
    return replace(run, looks=(*run.looks, *late)) if late else run


def _said(entry: Entry, chain: str) -> str:
    """Return what was found of a pass, with its name."""
    number = entry.facts.get("number")
    name = f"{_word(entry, 'part')} {number:03d}" if isinstance(number, int) else "a pass"
    return f"{name} through {chain}: {_word(entry, 'text') or 'see its findings'}"


def _word(entry: Entry, name: str) -> str:
    value = entry.facts.get(name)
    return value if isinstance(value, str) else ""


def _held(run: RunNow, reason: str) -> RunNow:
    return replace(run, state="held", at="", reason=reason)
